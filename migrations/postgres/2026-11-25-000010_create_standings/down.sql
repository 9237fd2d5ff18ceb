DROP TABLE standings;
