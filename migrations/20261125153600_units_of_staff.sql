-- In which units a member of staff reads volumes and temperatures. What is stored stays metric.
ALTER TABLE account ADD COLUMN units TEXT NOT NULL DEFAULT 'metric'
    CONSTRAINT account_units_known CHECK (units IN ('metric', 'inch'));
