"""Work at the desk and at the bench: findings in the terminal, bench sheets, worksheets for translators."""
