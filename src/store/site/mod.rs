//! The site and its rules.

pub mod site_rules;
pub mod site_waste;
pub mod sites;
