DROP VIEW mail_counts;
DROP VIEW mail_books;
DROP TABLE mail_stops;
DROP TABLE outgoing;
DROP TABLE mail_reasons;
DROP TABLE mail_choices;
