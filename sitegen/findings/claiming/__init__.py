"""The maker's figures held against findings."""
