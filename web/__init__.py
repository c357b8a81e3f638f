"""The pages: thin routes over ``planner.answers``, each with a JSON twin, all assets served locally."""
