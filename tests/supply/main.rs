//! Supplies as designs, through the whole house: against independent integrations of the same circuits, and each rule on
//! a design that breaks it.

#[cfg(test)]
mod bench;
#[cfg(test)]
mod facts;
#[cfg(test)]
mod faulty;
#[cfg(test)]
mod integration;
#[cfg(test)]
mod warming;
