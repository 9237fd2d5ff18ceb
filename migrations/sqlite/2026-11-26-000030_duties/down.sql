DROP TABLE calendar_steps;
DROP TABLE calendars;
DROP TABLE assignments;
