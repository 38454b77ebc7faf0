-- A digest over the rows of each table, kept with every commit by the program: a row that changed
-- without a commit is damage. The row called '(schema)' says up to which migration they were taken.
CREATE TABLE table_digest (
    table_name TEXT    NOT NULL PRIMARY KEY,
    row_count  INTEGER NOT NULL,
    digest     BLOB    NOT NULL,
    CONSTRAINT table_digest_length CHECK (length(digest) = 32)
) STRICT, WITHOUT ROWID;
