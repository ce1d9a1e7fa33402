"""`python -m pipelines` is the `academy` command."""

from pipelines.command_line import main

main()
