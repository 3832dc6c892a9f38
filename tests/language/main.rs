//! The design language: what it means, what it refuses, and how it says so.

#[cfg(test)]
mod bench;
#[cfg(test)]
mod broken;
#[cfg(test)]
mod example;
#[cfg(test)]
mod includes;
#[cfg(test)]
mod robust;
#[cfg(test)]
mod stages;
#[cfg(test)]
mod syntax;
#[cfg(test)]
mod tidy;
#[cfg(test)]
mod values;
#[cfg(test)]
mod workshop;
