"""Words that break out of whatever does not escape them."""

EVIL = "</script><script>alert(1)</script>\"'&<b>]]>{{ 7*7 }}{% x %}"
EVIL_YAML = "'" + EVIL.replace("'", "''") + "'"
EVIL_PROSE = EVIL_YAML.replace("{", "\\{").replace("}", "\\}")
