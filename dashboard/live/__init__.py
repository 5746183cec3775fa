"""The live page's own room: it follows a growing capture, and starts and stops the recorder's process.

Nothing runs between recorder and dashboard but the capture file, the logbook's rows for what a person marked, and
a signal to the recorder's process.
"""
