//! Who may depend on whom: `domain <- store <- {api, worker} <- the binary`, and which library each
//! layer has for itself. Read from the manifests: what is not in one cannot be imported.

use super::read;
use toml::{Table, Value};

const ROOT: &str = "tautline";

/// Our own crates, and those of ours that each may use.
const INNER: &[(&str, &[&str])] = &[
    ("domain", &[]),
    ("store", &["domain"]),
    ("api", &["domain", "store"]),
    ("worker", &["domain", "store"]),
    (ROOT, &["domain", "store", "api", "worker"]),
];

/// Libraries that belong to some layers only.
const CONFINED: &[(&str, &[&str])] = &[
    ("diesel", &["store"]),
    ("diesel_migrations", &["store"]),
    ("libsqlite3-sys", &["store"]),
    ("pq-sys", &["store"]),
    ("actix-web", &["api"]),
    ("actix-web-lab", &["api"]),
    ("jsonwebtoken", &["api"]),
    ("utoipa", &["api"]),
    ("utoipa-actix-web", &["api"]),
    ("lettre", &["worker"]),
    ("tokio-cron-scheduler", &["worker"]),
    ("askama", &["worker", "api"]),
    ("anyhow", &[ROOT]),
];

/// What the binary's tests and benchmarks may use although it belongs to a layer: a bare server to
/// measure against, and forged tokens to be refused.
const ROOT_DEV: &[&str] = &["actix-web", "jsonwebtoken"];

/// All that the domain may use; it has no input or output, no clock and no database.
const DOMAIN: &[&str] = &["jiff", "thiserror", "uuid", "statrs", "rand"];
const DOMAIN_DEV: &[&str] = &["proptest"];

struct Dependency {
    name: String,
    dev: bool,
}

/// Every dependency of a manifest, of all three kinds and of each target, under its real name.
fn dependencies(manifest: &Table, workspace: &Table) -> Vec<Dependency> {
    let mut tables = vec![manifest];
    if let Some(targets) = manifest.get("target").and_then(Value::as_table) {
        tables.extend(targets.values().filter_map(Value::as_table));
    }
    let mut found = Vec::new();
    for table in tables {
        for kind in ["dependencies", "build-dependencies", "dev-dependencies"] {
            let listed = table.get(kind).and_then(Value::as_table);
            for (name, value) in listed.into_iter().flatten() {
                let name = real_name(name, value, workspace);
                found.push(Dependency { name, dev: kind == "dev-dependencies" });
            }
        }
    }
    found
}

/// A dependency may be renamed with `package`, here or in the workspace's list.
fn real_name(name: &str, value: &Value, workspace: &Table) -> String {
    let shared = workspace
        .get("workspace")
        .and_then(|table| table.get("dependencies"))
        .and_then(|table| table.get(name))
        .filter(|_| value.get("workspace").is_some());
    [Some(value), shared]
        .into_iter()
        .flatten()
        .find_map(|value| value.get("package").and_then(Value::as_str))
        .unwrap_or(name)
        .to_owned()
}

fn objection(layer: &str, dependency: &Dependency) -> Option<&'static str> {
    let name = dependency.name.as_str();
    let lookup = |table: &'static [(&str, &[&str])], key: &str| {
        table.iter().find(|(name, _)| *name == key).map(|(_, allowed)| *allowed)
    };
    // A crate tests itself with the feature that its own tests need.
    if name == layer && dependency.dev {
        return None;
    }
    let is_ours = INNER.iter().any(|(ours, _)| *ours == name);
    if is_ours && !lookup(INNER, layer).unwrap_or(&[]).contains(&name) {
        return Some("dependencies point downward only, and never sideways");
    }
    let by_test = layer == ROOT && dependency.dev && ROOT_DEV.contains(&name);
    if lookup(CONFINED, name).is_some_and(|layers| !layers.contains(&layer)) && !by_test {
        return Some("that library belongs to another layer");
    }
    let allowed = DOMAIN.contains(&name) || dependency.dev && DOMAIN_DEV.contains(&name);
    if layer == "domain" && !allowed {
        return Some("the domain is pure");
    }
    None
}

fn layer_violations(manifest: &str, workspace: &str) -> Vec<String> {
    let parse = |text: &str| text.parse::<Table>().unwrap_or_else(|error| panic!("{error}"));
    let (manifest, workspace) = (parse(manifest), parse(workspace));
    let layer = manifest.get("package").and_then(|table| table.get("name"));
    let layer = layer.and_then(Value::as_str).unwrap();
    if !INNER.iter().any(|(known, _)| *known == layer) {
        return vec![format!("{layer}: a crate without a place among the layers")];
    }
    dependencies(&manifest, &workspace)
        .iter()
        .filter_map(|dependency| {
            let why = objection(layer, dependency)?;
            Some(format!("{layer} depends on {}: {why}", dependency.name))
        })
        .collect()
}

fn members(workspace: &str) -> Vec<String> {
    let table = workspace.parse::<Table>().unwrap();
    let members = table.get("workspace").and_then(|table| table.get("members"));
    let members = members.and_then(Value::as_array).unwrap();
    members.iter().map(|member| member.as_str().unwrap().to_owned()).collect()
}

#[test]
fn each_crate_imports_only_what_its_layer_may() {
    let workspace = read("Cargo.toml");
    let mut violations = layer_violations(&workspace, &workspace);
    let members = members(&workspace);
    assert!(members.len() >= 4, "the four layers are members: {members:?}");
    for member in members {
        violations.extend(layer_violations(&read(&format!("{member}/Cargo.toml")), &workspace));
    }
    super::none(&violations);
}

#[test]
fn a_planted_import_across_layers_is_caught() {
    let workspace = "[workspace.dependencies]\norm = { version = \"2\", package = \"diesel\" }";
    let check = |name: &str, tables: &str, expected: &[&str]| {
        let manifest = format!("[package]\nname = \"{name}\"\n{tables}");
        assert_eq!(layer_violations(&manifest, workspace), expected, "{manifest}");
    };
    let elsewhere = "that library belongs to another layer";
    let pure = "the domain is pure";
    let downward = "dependencies point downward only, and never sideways";

    check("store", "[dependencies]\ndiesel = \"2\"\ndomain = { path = \"../domain\" }", &[]);
    check(
        "api",
        "[dependencies]\ndiesel.workspace = true",
        &[&format!("api depends on diesel: {elsewhere}")],
    );
    check(
        "api",
        "[dependencies]\norm.workspace = true",
        &[&format!("api depends on diesel: {elsewhere}")],
    );
    check(
        "worker",
        "[target.'cfg(unix)'.build-dependencies]\nx = { package = \"pq-sys\" }",
        &[&format!("worker depends on pq-sys: {elsewhere}")],
    );
    check(
        "worker",
        "[dependencies]\napi.workspace = true",
        &[&format!("worker depends on api: {downward}")],
    );
    check(
        "api",
        "[dev-dependencies]\nworker.workspace = true",
        &[&format!("api depends on worker: {downward}")],
    );
    check(
        "store",
        "[dependencies]\nanyhow = \"1\"",
        &[&format!("store depends on anyhow: {elsewhere}")],
    );
    check("domain", "[dependencies]\njiff = \"1\"\n[dev-dependencies]\nproptest = \"1\"", &[]);
    check(
        "domain",
        "[dependencies]\nproptest = \"1\"\nserde = \"1\"",
        &[
            &format!("domain depends on proptest: {pure}"),
            &format!("domain depends on serde: {pure}"),
        ],
    );
    check(ROOT, "[dev-dependencies]\nactix-web = \"4\"", &[]);
    check(
        ROOT,
        "[dependencies]\nactix-web = \"4\"",
        &[&format!("tautline depends on actix-web: {elsewhere}")],
    );
    check(
        ROOT,
        "[dev-dependencies]\ndiesel = \"2\"",
        &[&format!("tautline depends on diesel: {elsewhere}")],
    );
    check("sixth", "", &["sixth: a crate without a place among the layers"]);
}
