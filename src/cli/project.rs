//! The project around a design: how far its includes may reach, and its workshop file.

use std::path::{Component, Path, PathBuf};

use crate::design::ProjectFiles;

use super::files::{WORKSHOP_FILE, read_text};

/// The project that a design belongs to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Project {
    /// The folder that includes may not leave: the repository, else the folder where the program was started where the
    /// design lies below it, else the design's own folder.
    pub(super) root: PathBuf,
    /// The workshop file nearest to the design, in its folder or above it up to the root.
    pub(super) workshop: Option<PathBuf>,
}

impl Project {
    /// The project of a design, found from the path as it was given.
    pub(super) fn of(design: &Path) -> Self {
        let (root, folders) = Self::folders(design);
        Self { root, workshop: folders.iter().map(|folder| folder.join(WORKSHOP_FILE)).find(|file| file.is_file()) }
    }

    /// The root of a design's project, and the folders from the design's own up to it.
    pub(super) fn folders(design: &Path) -> (PathBuf, Vec<PathBuf>) {
        let own = design.parent().unwrap_or(Path::new("")).to_owned();
        let mut folders = folders_above(&own);
        let repository = folders.iter().position(|folder| folder.join(".git").exists());
        // An empty path is the folder where the program was started.
        let here = std::env::current_dir().ok();
        let started = folders.iter().position(|folder| folder.as_os_str().is_empty() || Some(folder) == here.as_ref());
        folders.truncate(repository.or(started).unwrap_or(0) + 1);
        (folders.last().cloned().unwrap_or(own), folders)
    }
}

/// A folder and all above it, nearest first, written as the folder is: `a/b`, `a`, ``, `..`, `../..`.
fn folders_above(folder: &Path) -> Vec<PathBuf> {
    let depth = std::path::absolute(if folder.as_os_str().is_empty() { Path::new(".") } else { folder })
        .map_or(0, |path| path.components().count());
    let mut here: PathBuf = folder.components().filter(|component| *component != Component::CurDir).collect();
    let mut folders = vec![here.clone()];
    for _ in 1..depth {
        match here.components().next_back() {
            Some(Component::Normal(_)) => {
                here.pop();
            }
            Some(Component::RootDir | Component::Prefix(_)) => break,
            _ => here.push(".."),
        }
        folders.push(here.clone());
    }
    folders
}

impl ProjectFiles for Project {
    fn root(&self) -> &Path {
        &self.root
    }

    fn read(&self, path: &Path) -> Result<String, String> {
        let text = read_text(path)?;
        // A link may lead where the path's text does not.
        let real = |path: &Path| {
            let path = if path.as_os_str().is_empty() { Path::new(".") } else { path };
            path.canonicalize().map_err(|error| error.to_string())
        };
        if real(path)?.starts_with(real(&self.root)?) {
            Ok(text)
        } else {
            Err("it is a link that leaves the project folder".to_owned())
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn folder(files: &[&str]) -> tempfile::TempDir {
        let folder = tempfile::tempdir().unwrap();
        for name in files {
            let path = folder.path().join(name);
            std::fs::create_dir_all(path.parent().unwrap()).unwrap();
            std::fs::write(path, "text").unwrap();
        }
        folder
    }

    #[test]
    fn the_folders_above_are_written_as_the_path_is() {
        let above = folders_above(Path::new("a/./b"));
        assert_eq!(above[..4], ["a/b", "a", "", ".."].map(PathBuf::from));
        assert_eq!(folders_above(Path::new("/a/b")), ["/a/b", "/a", "/"].map(PathBuf::from));
    }

    #[test]
    fn a_repository_is_the_project_and_the_nearest_workshop_file_counts() {
        let folder =
            folder(&[".git/HEAD", "coldcheck.kdl", "club/coldcheck.kdl", "club/amps/line.kdl", "other/line.kdl"]);
        let at = |name: &str| folder.path().join(name);
        let project = Project::of(&at("club/amps/line.kdl"));
        assert_eq!(project.root, folder.path());
        assert_eq!(project.workshop, Some(at("club/coldcheck.kdl")));
        let project = Project::of(&at("other/line.kdl"));
        assert_eq!(project.workshop, Some(at("coldcheck.kdl")));
    }

    #[test]
    fn without_a_repository_a_design_elsewhere_has_its_own_folder() {
        let folder = folder(&["coldcheck.kdl", "amps/line.kdl"]);
        let project = Project::of(&folder.path().join("amps/line.kdl"));
        assert_eq!(project.root, folder.path().join("amps"));
        assert_eq!(project.workshop, None);
    }

    #[cfg(unix)]
    #[test]
    fn a_link_out_of_the_project_is_not_followed() {
        let outside = folder(&["secret.kdl"]);
        let folder = folder(&[".git/HEAD", "line.kdl", "supply.kdl"]);
        let link = folder.path().join("link.kdl");
        std::os::unix::fs::symlink(outside.path().join("secret.kdl"), &link).unwrap();
        let project = Project::of(&folder.path().join("line.kdl"));
        assert!(project.read(&link).unwrap_err().contains("leaves the project"));
        assert_eq!(project.read(&folder.path().join("supply.kdl")).unwrap(), "text");
    }
}
