"""Studies that tell what an instrument, its use and its airflow do to an indication: gauge study, flow study."""
