"""The long run: laws on 5000 pipes, 20 000 fuzzed files, planted mistakes.  python tests/long/run.py."""
