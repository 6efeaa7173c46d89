"""What the templates draw: plain values made from charts, reports and the record."""
