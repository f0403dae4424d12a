"""The job's tables as the rooms want them: the only readers of tables that become numbers, a subject a file."""

__all__: list[str] = []
