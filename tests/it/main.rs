//! The story tests: the real router on a real database, driven without a socket.
//! Folders mirror the URLs.

mod app;
mod bench;
mod book_dates;
mod book_histories;
mod darkroom;
mod disk;
mod door;
mod front;
mod limits;
mod links;
mod marking;
mod pages;
mod roles;
mod silver_book;
mod silver_exports;
mod writes;
