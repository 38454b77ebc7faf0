//! CSV files from domain values.
