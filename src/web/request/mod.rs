//! What a request holds, read and bounded.

mod failed;
pub mod new_account;
pub mod pictures;
pub mod posted;
pub mod takes;
