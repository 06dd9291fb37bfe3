"""Published statistics in general terms; nothing here knows of vehicles."""
