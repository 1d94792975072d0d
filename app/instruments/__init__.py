"""Instruments, their reference volumes and calibrations, and their verification before and after."""
