"""Giving out the steps of a schedule, each at its time; reads only the schedule."""
