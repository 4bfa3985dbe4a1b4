"""What washing and use did."""
