//! The real program as a process: started, spoken to over a socket, stopped, killed.

mod damage;
mod demo;
mod drill;
mod floor_load;
mod keeping;
mod kill;
mod kill_chemistry;
mod lab;
mod moved;
mod power_cut;
mod program;
mod schemas;
mod serving;
