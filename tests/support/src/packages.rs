//! The packages that the program is made of on this system, as cargo knows them without a network.

pub use clinoblade_packaging::packages::{Follow, Package, Workspace, linked};

/// What goes into the program: no tests, no build scripts, nothing of other systems.
pub fn normal_dependencies() -> Vec<Package> {
    workspace().dependencies(Follow::Normal)
}

/// Everything that is built on this system, for tests and build scripts too.
pub fn all_dependencies() -> Vec<Package> {
    workspace().dependencies(Follow::All)
}

/// How many packages are our own: the members of this workspace.
pub fn own_packages() -> usize {
    workspace().members()
}

fn workspace() -> Workspace {
    Workspace::of(&crate::place::project("")).unwrap()
}
