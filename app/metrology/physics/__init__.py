"""The physics under the measuring methods: sound and gas in the chamber, air, crank, airflow. Plain floats."""
