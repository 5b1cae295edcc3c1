"""How `manage.py start` brings the installation up and keeps its processes running."""
