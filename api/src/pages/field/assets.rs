//! Scripts and style of the field pages, inside the program and under an address that names them.
//!
//! The address changes with the contents, so that a phone keeps what it loaded for good and never
//! mixes parts of two versions. Nothing is built or joined: a script is served as it is written
//! but for its comments and indents, and compressed once where the browser reads that. Pages themselves are never compressed: they carry
//! what is secret beside what others typed, and the length would tell.

use crate::actions::show::carried;
use crate::http::Problem;
use crate::ledger::tree::sha256;
use crate::pages::figures;
use crate::pages::way::Visit;
use actix_web::HttpResponse;
use actix_web::http::header::{
    ACCEPT_ENCODING, CACHE_CONTROL, CONTENT_ENCODING, CONTENT_SECURITY_POLICY, VARY,
};
use flate2::Compression;
use flate2::write::GzEncoder;
use std::io::Write;
use std::sync::LazyLock;

const SCRIPT: &str = "text/javascript; charset=utf-8";
const STYLE: &str = "text/css; charset=utf-8";
const TABLE: &str = "application/json";

/// A file as it is written, and compressed.
struct File {
    name: &'static str,
    kind: &'static str,
    text: String,
    packed: Vec<u8>,
}

impl File {
    fn of(name: &'static str, kind: &'static str, text: &str) -> File {
        let text = match kind {
            SCRIPT => lean(text),
            _ => text.to_string(),
        };
        File {
            name,
            kind,
            packed: packed(&text),
            text,
        }
    }
}

/// A script without the lines that are comments and without its indents: a fifth less to load.
/// No text of ours reaches over a line's end (a test looks), so nothing that is said changes.
fn lean(text: &str) -> String {
    let lines = text.lines().map(str::trim_start);
    let comment = |line: &&str| {
        line.is_empty()
            || ["//", "/**", "* ", "*/"]
                .iter()
                .any(|it| line.starts_with(it))
    };
    let kept: Vec<&str> = lines.filter(|line| !comment(line)).collect();
    kept.join("\n") + "\n"
}

macro_rules! files {
    ($($name:literal $kind:ident)+) => {
        vec![$(File::of(
            $name,
            $kind,
            include_str!(concat!("../../../assets/field/", $name)),
        )),+]
    };
}

static FILES: LazyLock<Vec<File>> = LazyLock::new(|| {
    let mut files = files! {
        "field.css" STYLE
        "age.mjs" SCRIPT
        "ask.mjs" SCRIPT
        "boxes.mjs" SCRIPT
        "check.mjs" SCRIPT
        "correct.mjs" SCRIPT
        "custody.mjs" SCRIPT
        "dom.mjs" SCRIPT
        "field.mjs" SCRIPT
        "find.mjs" SCRIPT
        "flow.mjs" SCRIPT
        "known.mjs" SCRIPT
        "load.mjs" SCRIPT
        "mass.mjs" SCRIPT
        "outbox.mjs" SCRIPT
        "physics.mjs" SCRIPT
        "post.mjs" SCRIPT
        "register.mjs" SCRIPT
        "scan.mjs" SCRIPT
        "send.mjs" SCRIPT
        "service.mjs" SCRIPT
        "store.mjs" SCRIPT
        "tools.mjs" SCRIPT
        "unbooked.mjs" SCRIPT
        "weight.mjs" SCRIPT
        "what-if.mjs" SCRIPT
    };
    let limits = serde_json::json!(carried::limits()).to_string();
    files.push(File::of("limits.json", TABLE, &limits));
    files.push(File::of("saturation.json", TABLE, &super::tools::table()));
    files
});

/// The worker without the names of what it loads.
const WORKER: &str = include_str!("../../../assets/field/worker.js");

static VERSION: LazyLock<String> = LazyLock::new(|| {
    let mut all = format!("{}\n{WORKER}", crate::pages::assets::STYLE_TEXT);
    for file in FILES.iter() {
        all.push_str(&format!("\n{}\n{}", file.name, file.text));
    }
    figures::print(&sha256(all.as_bytes()), 12)
});

static WORKER_TEXT: LazyLock<String> = LazyLock::new(|| {
    let own = FILES
        .iter()
        .map(|file| format!("/assets/field/{}/{}", version(), file.name));
    let mut files = vec!["/assets/tarebook.css".to_string()];
    files.extend(own);
    files.push("/assets/mark.svg".to_string());
    let (version, files) = (serde_json::json!(version()), serde_json::json!(files));
    let worker = lean(WORKER);
    format!("const VERSION = {version};\nconst FILES = {files};\n{worker}")
});

/// Names the contents of all files together.
pub fn version() -> &'static str {
    &VERSION
}

/// `GET /assets/field/{version}/{name}`. A page of an older version gets what there is now, and
/// keeps it for this once.
pub async fn show(visit: Visit) -> Result<HttpResponse, Problem> {
    let (asked, name) = (visit.asked.name("version"), visit.asked.name("name"));
    let Some(file) = FILES.iter().find(|file| file.name == name) else {
        let detail = "There is no such file among those of the field pages.";
        return Err(Problem::new("not-found", detail));
    };
    let keep = match asked == version() {
        true => "public, max-age=31536000, immutable",
        false => "no-store",
    };
    Ok(written(&visit, file.kind, &file.text, &file.packed, keep))
}

/// `GET /field-worker.js`: at the top, because a worker sees what lies beside and below it.
pub async fn worker(_: Visit) -> Result<HttpResponse, Problem> {
    Ok(HttpResponse::Ok()
        .content_type(SCRIPT)
        .insert_header((CACHE_CONTROL, "no-cache"))
        // A worker loads what its own answer allows, not what the pages' do.
        .insert_header((CONTENT_SECURITY_POLICY, super::POLICY))
        .body(WORKER_TEXT.as_str()))
}

/// A file as the browser reads it best.
pub fn written(
    visit: &Visit,
    kind: &'static str,
    text: &'static str,
    packed: &[u8],
    keep: &'static str,
) -> HttpResponse {
    let mut answer = HttpResponse::Ok();
    answer
        .content_type(kind)
        .insert_header((CACHE_CONTROL, keep))
        .insert_header((VARY, "Accept-Encoding"));
    let reads = visit.asked.header(ACCEPT_ENCODING.as_str());
    let reads_packed = reads.is_some_and(|reads| {
        let mut named = reads.split(',').map(str::trim);
        // `gzip;q=0` says no, and nobody sends another weight without meaning yes.
        named.any(|coding| coding.starts_with("gzip") && !coding.ends_with("q=0"))
    });
    match reads_packed {
        true => answer
            .insert_header((CONTENT_ENCODING, "gzip"))
            .body(packed.to_vec()),
        false => answer.body(text),
    }
}

/// A text compressed; writing into memory does not fail.
pub fn packed(text: &str) -> Vec<u8> {
    let mut packer = GzEncoder::new(Vec::new(), Compression::best());
    let _ = packer.write_all(text.as_bytes());
    packer.finish().unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Scripts name each other relative to themselves; a name that is no file stops all of them.
    #[test]
    fn every_file_that_a_script_names_is_served() {
        for File { name, text, .. } in FILES.iter() {
            for (at, _) in text.match_indices("\"./") {
                let rest = &text[at + 3..];
                let named = rest.split('"').next().unwrap_or_default();
                let known = FILES.iter().any(|file| file.name == named);
                assert!(known, "{name} names {named}");
            }
        }
        assert_eq!(version().len(), 12);
    }

    /// Comments go line by line, which is safe where no text and no comment reaches over a line.
    #[test]
    fn no_text_reaches_over_the_end_of_a_line() {
        for File { name, text, .. } in FILES.iter().filter(|file| file.kind == SCRIPT) {
            for line in text.lines() {
                assert_eq!(line.matches('`').count() % 2, 0, "{name}: {line}");
                assert!(!line.starts_with('*'), "{name}: {line}");
            }
            assert!(
                text.contains("export") || text.contains("begin()"),
                "{name}"
            );
        }
        assert_eq!(
            lean("// says\n  one(); // stays\n/** also */\n"),
            "one(); // stays\n"
        );
    }

    /// What neither the page of a posting nor that of the steps ever loads.
    const ELSEWHERE: [&str; 10] = [
        "custody.mjs",
        "find.mjs",
        "outbox.mjs",
        "load.mjs",
        "register.mjs",
        "correct.mjs",
        "scan.mjs",
        "physics.mjs",
        "tools.mjs",
        "weight.mjs",
    ];

    /// What each of them never loads (`field.mjs` and `post.mjs` tell them apart by their forms): the
    /// form for a unit that the book does not know asks the book nothing.
    const NEVER: [(&str, &[&str]); 3] = [
        ("posting", &["service.mjs", "unbooked.mjs"]),
        (
            "posting at a unit that waits",
            &["service.mjs", "what-if.mjs"],
        ),
        (
            "steps",
            &["post.mjs", "boxes.mjs", "what-if.mjs", "unbooked.mjs"],
        ),
    ];

    /// Budgets of the field pages: all script of a posting under 30 kB, as it travels, with what it
    /// loads only when the signal is gone; that of the steps as well.
    #[test]
    fn script_stays_small() {
        let worker = packed(&WORKER_TEXT).len();
        for (page, others) in NEVER {
            let here = |file: &&File| {
                let stays_away = ELSEWHERE.contains(&file.name) || others.contains(&file.name);
                file.kind == SCRIPT && !stays_away
            };
            let scripts = FILES.iter().filter(here);
            let travels: usize = scripts.map(|file| file.packed.len()).sum();
            assert!(travels > 10_000, "the scripts are there: {travels}");
            assert!(
                travels + worker < 30_000,
                "{page}: {travels} and {worker} bytes"
            );
        }
    }
}
