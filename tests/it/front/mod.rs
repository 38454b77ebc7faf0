//! Stories of the front bench.

mod accounts;
mod batch_page;
mod box_counts;
mod card_cameras;
mod cards;
mod chemistry;
mod experience;
mod exports;
mod filled_cards;
mod floor;
mod keeping;
mod keeping_tables;
mod marks;
mod needs;
mod oneroster;
mod roster;
mod rubrics;
mod sections;
mod sessions;
mod site;
mod site_waste;
mod stockroom;
mod suggested;
mod waste;
mod waste_care;
mod waste_years;
