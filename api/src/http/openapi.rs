//! The description of the interface: OpenAPI 3.1, written from the table of routes.
//!
//! Addresses, methods, queries and types of problems come from [`ROUTES`], the shapes of bodies from
//! `openapi/schemas.json` and `openapi/physics.json` (JSON Schema 2020-12). Tests hold every answer they see against it.

use super::answer::Asked;
use super::help;
use super::problem::Problem;
use super::problem::kinds::{self, KINDS};
use super::routes::{Access, Gives, Parameter, ROUTES, Route, Verb};
use actix_web::HttpResponse;
use serde_json::{Map, Value, json};
use std::collections::BTreeMap;
use std::sync::LazyLock;

const SCHEMAS: &str = include_str!("openapi/schemas.json");
const OF_PHYSICS: &str = include_str!("openapi/physics.json");

const ABOUT: &str = "Takes refrigerant weights from the field, keeps them in an append-only book that \
    anybody can check, works out leak rates against dated rules, and says what is owed. Entries are \
    posted with an id that the client makes; the same id again books nothing twice. Masses are exact \
    decimal grams as text. Every refusal is a problem (RFC 9457) whose type is also a help page.";

/// The document, written once.
pub static DOCUMENT: LazyLock<Value> = LazyLock::new(|| {
    let mut schemas: Map<String, Value> = serde_json::from_str(SCHEMAS).unwrap_or_default();
    let of_physics: Map<String, Value> = serde_json::from_str(OF_PHYSICS).unwrap_or_default();
    schemas.extend(of_physics);
    let mut paths: BTreeMap<String, Map<String, Value>> = BTreeMap::new();
    for route in ROUTES {
        let operations = paths.entry(plain_path(route.path)).or_default();
        operations.insert(route.method.word().to_lowercase(), operation(route));
    }
    json!({
        "openapi": "3.1.0",
        "info": {"title": "tarebook", "version": env!("CARGO_PKG_VERSION"), "description": ABOUT,
                 "license": {"name": "MIT OR Apache-2.0", "identifier": "MIT OR Apache-2.0"}},
        "servers": [{"url": "/"}],
        "paths": paths,
        "components": {
            "schemas": schemas,
            "securitySchemes": {
                "bearer": {"type": "http", "scheme": "bearer",
                           "description": "A token: tb_, eight characters, _, 256 random bits."},
                "session": {"type": "apiKey", "in": "cookie", "name": "__Host-tarebook",
                            "description": "The cookie of POST /api/v1/sessions. On a loopback \
                                            address without TLS it is called tarebook."},
            },
        },
    })
});

/// The address as OpenAPI writes it.
pub fn plain_path(path: &str) -> String {
    path.replace(":.*}", "}")
}

fn operation(route: &Route) -> Value {
    let mut parameters: Vec<Value> = names_in(route.path)
        .iter()
        .map(|name| in_path(name))
        .collect();
    parameters.extend(
        route
            .query
            .iter()
            .map(|parameter| in_query(route, parameter)),
    );
    if route.problems.contains(&"version-required") {
        parameters.push(json!({
            "name": "If-Match", "in": "header", "required": false, "schema": {"type": "string"},
            "description": "ETag of the version that is changed; without it 428.",
        }));
    }
    if route.path == "/api/v1/entries" && route.method == Verb::Post {
        parameters.push(json!({
            "name": "Tarebook-Person", "in": "header", "required": false,
            "schema": {"type": "string", "format": "uuid"},
            "description": "Who wrote the entries: under the sign-in of another person nothing is \
                            booked (403). For what is kept on a phone that several people use.",
        }));
    }
    let mut operation = json!({
        "summary": route.summary,
        "operationId": operation_id(route),
        "parameters": parameters,
        "responses": responses(route),
        "security": match route.access {
            Access::Open | Access::Maybe => json!([]),
            _ => json!([{"bearer": []}, {"session": []}]),
        },
    });
    if let Some(schema) = route.takes {
        operation["requestBody"] = json!({
            "required": true,
            "content": {"application/json": {"schema": reference(schema)}},
        });
    }
    operation
}

fn operation_id(route: &Route) -> String {
    let words = route.path.replace("/api/v1/", "/");
    let words = words.replace(|letter: char| !letter.is_ascii_alphanumeric(), "_");
    let words: Vec<&str> = words.split('_').filter(|word| !word.is_empty()).collect();
    format!("{}_{}", route.method.word().to_lowercase(), words.join("_"))
}

fn names_in(path: &str) -> Vec<String> {
    let name = |part: &str| part.split(['}', ':']).next().map(str::to_string);
    path.split('{').skip(1).filter_map(name).collect()
}

fn in_path(name: &str) -> Value {
    let about = match name {
        "id" => "An id, or (of registered things) a tag.",
        "tile" => "L/N, L/N.p/W, entries/N or entries/N.p/W.",
        "name" => "Name of the report.",
        _ => "Its name.",
    };
    json!({"name": name, "in": "path", "required": true, "description": about,
           "schema": {"type": "string"}})
}

fn in_query(route: &Route, parameter: &Parameter) -> Value {
    let schema: Value = serde_json::from_str(parameter.schema).unwrap_or_default();
    let required = parameter.name == "year"
        || (parameter.name == "from" && route.path.ends_with("/consistency"));
    json!({"name": parameter.name, "in": "query", "required": required,
           "description": parameter.about, "schema": schema})
}

fn reference(schema: &str) -> Value {
    json!({"$ref": format!("#/components/schemas/{schema}")})
}

fn responses(route: &Route) -> Value {
    let mut responses = Map::new();
    for gives in route.gives {
        responses.insert(gives.status.to_string(), response(gives));
    }
    let mut by_status: BTreeMap<u16, Vec<&str>> = BTreeMap::new();
    for slug in problems(route) {
        by_status
            .entry(kinds::named(slug).status)
            .or_default()
            .push(slug);
    }
    for (status, slugs) in by_status {
        let types: Vec<String> = slugs.iter().map(|slug| kinds::named(slug).path()).collect();
        let problem = json!({
            "description": types.join(", "),
            "content": {"application/problem+json": {"schema": reference("Problem")}},
        });
        responses.entry(status.to_string()).or_insert(problem);
    }
    Value::Object(responses)
}

fn response(gives: &Gives) -> Value {
    let about = match gives.status {
        200 => "Here it is.",
        201 => "Booked, or made.",
        204 => "Done.",
        207 => "Each item by itself.",
        304 => "As you have it.",
        _ => "Not now.",
    };
    let media = gives.media.split(';').next().unwrap_or_default();
    match (media, gives.schema) {
        ("", _) => json!({"description": about}),
        (media, Some(schema)) => {
            json!({"description": about, "content": {media: {"schema": reference(schema)}}})
        }
        (media, None) => json!({"description": about, "content": {media: {}}}),
    }
}

/// Every type of problem that a route may answer.
pub fn problems(route: &Route) -> Vec<&'static str> {
    let mut slugs = vec![
        "failure",
        "malformed",
        "unavailable",
        "unsupported-encoding",
        "unknown-field",
        "invalid-value",
    ];
    match route.access {
        Access::Open | Access::Maybe => {}
        Access::SignedIn => slugs.extend(["not-signed-in", "forbidden"]),
        Access::Posting | Access::To(_) => slugs.extend(["not-signed-in", "forbidden"]),
    }
    if route.method != Verb::Get {
        slugs.push("forbidden");
    }
    if route.reads_body() {
        slugs.extend(["too-large", "timed-out"]);
    }
    slugs.extend(route.problems);
    slugs.sort_unstable();
    slugs.dedup();
    slugs
}

/// `GET /api/v1/openapi.json`.
pub async fn document(_: Asked) -> Result<HttpResponse, Problem> {
    Ok(HttpResponse::Ok().json(&*DOCUMENT))
}

/// `GET /api/v1/docs`: the same, to be read without any script.
pub async fn page(_: Asked) -> Result<HttpResponse, Problem> {
    let mut body = format!(
        "<p>{}</p>\n<p>The same for programs: <a href=\"/api/v1/openapi.json\">OpenAPI 3.1</a>.</p>\n",
        help::escaped(ABOUT)
    );
    body.push_str("<h2>What can be asked</h2>\n");
    ROUTES
        .iter()
        .for_each(|route| body.push_str(&described(route)));
    body.push_str("<h2>Problems</h2>\n<ul>\n");
    for kind in KINDS {
        let (path, title) = (kind.path(), help::escaped(kind.title));
        body.push_str(&format!(
            "<li><a href=\"{path}\">{}</a> ({}): {title}</li>\n",
            kind.slug, kind.status
        ));
    }
    body.push_str("</ul>\n<h2>Questions and stops</h2>\n<ul>\n");
    for (code, _) in crate::actions::decide::known_codes() {
        body.push_str(&format!(
            "<li><a href=\"/questions/{code}\">{code}</a></li>\n"
        ));
    }
    body.push_str("</ul>\n<h2>Shapes</h2>\n");
    let schemas = DOCUMENT
        .pointer("/components/schemas")
        .and_then(Value::as_object);
    for (name, schema) in schemas.into_iter().flatten() {
        let text = serde_json::to_string_pretty(schema).unwrap_or_default();
        body.push_str(&format!(
            "<h3 id=\"{name}\">{name}</h3>\n<pre>{}</pre>\n",
            help::escaped(&text)
        ));
    }
    Ok(help::page("The interface of tarebook", &body))
}

/// A row as people read it.
fn described(route: &Route) -> String {
    let who = match route.access {
        Access::Open | Access::Maybe => "everybody".to_string(),
        Access::SignedIn => "whoever is signed in".to_string(),
        Access::Posting => "whoever may post".to_string(),
        Access::To(deed) => super::asker::roles_of(deed).join(", "),
    };
    let mut text = format!(
        "<h3><code>{} {}</code></h3>\n<p>{} For: {who}.</p>\n<ul>\n",
        route.method.word(),
        plain_path(route.path),
        help::escaped(route.summary)
    );
    for parameter in route.query {
        let about = help::escaped(parameter.about);
        text.push_str(&format!(
            "<li>query <code>{}</code>: {about}</li>\n",
            parameter.name
        ));
    }
    if let Some(schema) = route.takes {
        text.push_str(&format!(
            "<li>body: <a href=\"#{schema}\">{schema}</a></li>\n"
        ));
    }
    for gives in route.gives {
        let what = match gives.schema {
            Some(schema) => format!("<a href=\"#{schema}\">{schema}</a>"),
            None => gives.media.to_string(),
        };
        text.push_str(&format!("<li>{}: {what}</li>\n", gives.status));
    }
    let problems: Vec<String> = (problems(route).iter())
        .map(|slug| format!("<a href=\"/problems/{slug}\">{slug}</a>"))
        .collect();
    text.push_str(&format!(
        "<li>problems: {}</li>\n</ul>\n",
        problems.join(", ")
    ));
    text
}
