"""What people do to their batches and alarms: values in, doubts and an outcome out, whoever stands before the desk."""
