"""What lies in the inbox in; answers out, worked out in processes of their own."""
