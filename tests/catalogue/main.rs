//! What the built-in catalogue holds, checked against published figures, and how catalogue files are read.

#[cfg(test)]
mod built_in;
#[cfg(test)]
mod models;
#[cfg(test)]
mod reading;
#[cfg(test)]
mod table;
