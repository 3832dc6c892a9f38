//! `file:` addresses (RFC 8089) and paths.

use std::path::{Path, PathBuf};

/// The path of a `file:` address; nothing of any other.
pub(super) fn path_of(uri: &str) -> Option<PathBuf> {
    let rest = uri.strip_prefix("file://")?;
    let rest = rest.strip_prefix("localhost").unwrap_or(rest);
    let bytes = decoded(rest)?;
    let text = String::from_utf8(bytes).ok()?;
    let drive = text.as_bytes().get(2) == Some(&b':');
    Some(PathBuf::from(if drive { text.trim_start_matches('/') } else { &text }))
}

/// The `file:` address of a path.
pub(super) fn uri_of(path: &Path) -> String {
    let text = path.to_string_lossy().replace('\\', "/");
    let mut uri = String::from(if text.starts_with('/') { "file://" } else { "file:///" });
    for byte in text.bytes() {
        if byte.is_ascii_alphanumeric() || b"/-._~:".contains(&byte) {
            uri.push(char::from(byte));
        } else {
            uri.push_str(&format!("%{byte:02X}"));
        }
    }
    uri
}

fn decoded(text: &str) -> Option<Vec<u8>> {
    let mut bytes = text.bytes();
    let mut found = Vec::with_capacity(text.len());
    while let Some(byte) = bytes.next() {
        if byte == b'%' {
            let digits = [bytes.next()?, bytes.next()?];
            found.push(u8::from_str_radix(std::str::from_utf8(&digits).ok()?, 16).ok()?);
        } else {
            found.push(byte);
        }
    }
    Some(found)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_path_comes_back_from_its_address() {
        let path = Path::new("/home/amps/line stage é.kdl");
        assert_eq!(uri_of(path), "file:///home/amps/line%20stage%20%C3%A9.kdl");
        assert_eq!(path_of(&uri_of(path)).unwrap(), path);
        assert_eq!(path_of("file:///C%3A/amps/a.kdl").unwrap(), Path::new("C:/amps/a.kdl"));
        assert_eq!(path_of("untitled:1"), None);
        assert_eq!(path_of("file:///a%2"), None);
    }
}
