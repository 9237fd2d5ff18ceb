DROP INDEX movements_by_visit;
