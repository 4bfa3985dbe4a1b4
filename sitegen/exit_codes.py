"""The exit codes of all commands. A fault of the tool itself stays a traceback."""

FINE = 0  # there may be cautions
AT_FAULT = 1  # errors in the publication or on the disk
WRONG_USE = 2  # of the command
STOPPED = 130  # by hand: 128 and the number of the signal, as shells count (POSIX.1-2017, XCU 2.8.2)
