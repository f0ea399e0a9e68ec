// Checks FHIR R4 documents with code that shares nothing with the program: the npm packages `fhir`
// (structure, required codes) and `fhirpath` (invariants), its units library, and checks of our own for
// what neither looks at. Says one JSON array of faults for each file, in the order given.
//
//   node check.mjs FILE...      exit 0: all accepted; 1: something is wrong; 2: could not check
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { invariants } from "./invariants.mjs";

const require = createRequire(import.meta.url);
let Fhir, fhirpath, r4, ucum, types, valueSets;
try {
  ({ Fhir } = require("fhir"));
  fhirpath = require("fhirpath");
  r4 = require("fhirpath/fhir-context/r4");
  ucum = require("@lhncbc/ucum-lhc").UcumLhcUtils.getInstance();
  types = require("fhir/profiles/types.json");
  valueSets = require("fhir/profiles/valuesets.json");
} catch (error) {
  console.error(`check.mjs: ${error.message}\nRun scripts/install-outside-checks.`);
  process.exit(2);
}

// The regular expressions of hl7.org/fhir/R4/datatypes.html.
const time = "([01][0-9]|2[0-3]):[0-5][0-9]:([0-5][0-9]|60)(\\.[0-9]+)?";
const zone = "(Z|(\\+|-)((0[0-9]|1[0-3]):[0-5][0-9]|14:00))";
const year = "([0-9]([0-9]([0-9][1-9]|[1-9]0)|[1-9]00)|[1-9]000)";
const shapes = {
  id: /^[A-Za-z0-9\-.]{1,64}$/,
  instant: new RegExp(`^${year}-(0[1-9]|1[0-2])-(0[1-9]|[12][0-9]|3[01])T${time}${zone}$`),
  dateTime: new RegExp(`^${year}(-(0[1-9]|1[0-2])(-(0[1-9]|[12][0-9]|3[01])(T${time}${zone})?)?)?$`),
  date: new RegExp(`^${year}(-(0[1-9]|1[0-2])(-(0[1-9]|[12][0-9]|3[01]))?)?$`),
  time: new RegExp(`^${time}$`),
  code: /^[^\s]+(\s[^\s]+)*$/,
  oid: /^urn:oid:[0-2](\.(0|[1-9][0-9]*))+$/,
  uuid: /^urn:uuid:[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$/,
  uri: /^\S+$/,
  url: /^\S+$/,
  canonical: /^\S+$/,
  string: /^[ \r\n\t\S]+$/,
  markdown: /^[ \r\n\t\S]+$/,
  base64Binary: /^(\s*([0-9a-zA-Z+/=]){4}\s*)+$/,
};
const numbers = {
  integer: (n) => Number.isInteger(n) && Math.abs(n) < 2 ** 31,
  unsignedInt: (n) => Number.isInteger(n) && n >= 0 && n < 2 ** 31,
  positiveInt: (n) => Number.isInteger(n) && n > 0 && n < 2 ** 31,
  decimal: (n) => typeof n === "number",
};

// Every code that the value sets of the standard name, by its system.
const known = new Map();
for (const set of Object.values(valueSets))
  for (const { uri, codes } of set.systems) {
    if (!known.has(uri)) known.set(uri, new Set());
    for (const { code } of codes) known.get(uri).add(code);
  }
// Codes that those value sets name by a rule and not one by one, as the pages of terminology.hl7.org list them
// (CodeSystem-v3-ActCode, -v3-ParticipationMode, -v3-ActReason); from memory.
const byRule = {
  "v3-ActCode": ["AMB"],
  "v3-ParticipationMode": ["PHONE", "FACE", "MAILWRIT", "EMAILWRIT", "VIDCONF"],
  "v3-ActReason": ["TREAT", "HPAYMT", "PATRQT"],
};
for (const [name, codes] of Object.entries(byRule)) {
  const uri = `http://terminology.hl7.org/CodeSystem/${name}`;
  known.set(uri, new Set([...(known.get(uri) ?? []), ...codes]));
}

function check(bundle) {
  const faults = [];
  const fault = (check, where, what) => faults.push({ check, where, what });
  structure(bundle, fault);
  const urls = new Map();
  for (const entry of bundle.entry ?? []) urls.set(entry.fullUrl, entry.resource);
  walk(bundle, "Bundle", "Bundle", { fault, urls });
  for (const [at, entry] of (bundle.entry ?? []).entries()) {
    if (!/^urn:uuid:/.test(entry.fullUrl ?? "")) fault("reference", `entry[${at}]`, "fullUrl is no urn:uuid");
    else if (!shapes.uuid.test(entry.fullUrl)) fault("datatype", `entry[${at}].fullUrl`, entry.fullUrl);
  }
  reachable(bundle, fault);
  holds(bundle, fault);
  return faults;
}

function structure(bundle, fault) {
  const said = new Fhir().validate(bundle, { errorOnUnexpected: true });
  for (const { severity, location, resourceId, message } of said.messages)
    if (["error", "fatal"].includes(severity)) fault("structure", `${resourceId} ${location}`, message);
}

// Every member by its type: regular expressions, nothing empty, one of several value types, HL7's own
// codes, units, and whether a reference is there and may point where it points.
function walk(value, type, where, about) {
  const definition = types[type];
  if (definition === undefined) return about.fault("datatype", where, `no type ${type}`);
  members(value, definition._properties, where, about);
  if (type === "Coding") coding(value, where, about);
  if (type === "Quantity" && value.system === "http://unitsofmeasure.org") unit(value, where, about);
}

function members(value, properties, where, about) {
  const choices = new Map();
  for (const property of properties) {
    const held = value[property._name];
    if (held === undefined) continue;
    const here = `${where}.${property._name}`;
    if (property._choice) {
      const other = choices.get(property._choice);
      if (other !== undefined) about.fault("datatype", here, `stands beside ${other}`);
      choices.set(property._choice, property._name);
    }
    const all = Array.isArray(held) ? held : [held];
    if (Array.isArray(held) !== Boolean(property._multiple))
      about.fault("datatype", here, property._multiple ? "is no list" : "is a list");
    if (all.length === 0) about.fault("datatype", here, "an empty list");
    all.forEach((one, at) => member(one, property, all.length > 1 ? `${here}[${at}]` : here, about));
  }
}

function member(one, property, here, about) {
  const type = property._type;
  if (one === null || one === "" || (typeof one === "object" && Object.keys(one).length === 0))
    return about.fault("datatype", here, "is empty");
  if (type in shapes) {
    if (typeof one !== "string" || !shapes[type].test(one) || !one.trim())
      about.fault("datatype", here, `no ${type}: ${JSON.stringify(one)}`);
    if ((type === "date" || type === "dateTime" || type === "instant") && !dayExists(one))
      about.fault("datatype", here, `no such day: ${one}`);
  } else if (type in numbers) {
    if (!numbers[type](one)) about.fault("datatype", here, `no ${type}: ${JSON.stringify(one)}`);
  } else if (type === "boolean") {
    if (typeof one !== "boolean") about.fault("datatype", here, "no boolean");
  } else if (type === "xhtml") {
    if (typeof one !== "string") about.fault("datatype", here, "no text");
  } else if (type === "Resource") {
    walk(one, one.resourceType, one.resourceType ?? "?", about);
  } else if (type === "Reference") {
    reference(one, property, here, about);
    walk(one, "Reference", here, about);
  } else if (property._properties?.length) {
    members(one, property._properties, here, about);
  } else if (type.startsWith("#")) {
    members(one, contentOf(type), here, about);
  } else {
    walk(one, type, here, about);
  }
}

// "#Composition.section": the same members as there.
function contentOf(name) {
  const [resource, ...path] = name.slice(1).split(".");
  let properties = types[resource]._properties;
  for (const step of path) properties = properties.find((p) => p._name === step)._properties;
  return properties;
}

function dayExists(text) {
  const [, y, m, d] = /^(\d{4})-(\d\d)-(\d\d)/.exec(text) ?? [];
  if (d === undefined) return true;
  const day = new Date(Date.UTC(+y, +m - 1, +d));
  return day.getUTCMonth() === +m - 1 && day.getUTCDate() === +d;
}

function reference(one, property, here, { fault, urls }) {
  if (one.reference === undefined) {
    if (one.identifier === undefined && one.display === undefined) fault("reference", here, "points to nothing");
    return;
  }
  const found = urls.get(one.reference);
  if (found === undefined) return fault("reference", here, `${one.reference} is not in the document`);
  const allowed = [property._targetProfiles ?? []].flat().map((url) => url.split("/").pop());
  if (allowed.length && !allowed.includes("Resource") && !allowed.includes(found.resourceType))
    fault("reference", here, `points to ${found.resourceType}; allowed: ${allowed.join(", ")}`);
}

function coding(one, where, { fault }) {
  if (one.system === undefined) return fault("code", where, "a code without its system");
  if (!/^https?:\/\/([a-z]+\.)?hl7\.org\//.test(one.system)) return;
  const codes = known.get(one.system);
  if (codes === undefined) fault("code", where, `HL7 has no code system ${one.system}`);
  else if (!codes.has(one.code)) fault("code", where, `${one.code} is not in ${one.system}`);
}

function unit(one, where, { fault }) {
  const said = ucum.validateUnitString(one.code);
  if (said.status !== "valid") fault("unit", where, `${one.code}: ${said.msg}`);
}

// R4, "Documents": everything in a document hangs on its Composition; only what tells the origin of
// something in it may point there from outside.
function reachable(bundle, fault) {
  const by = new Map((bundle.entry ?? []).map((entry) => [entry.fullUrl, entry.resource]));
  const reached = new Set();
  const queue = [bundle.entry?.[0]?.fullUrl];
  const spread = () => {
    while (queue.length) {
      const url = queue.pop();
      if (reached.has(url) || !by.has(url)) continue;
      reached.add(url);
      queue.push(...pointers(by.get(url)));
    }
  };
  spread();
  for (const [url, resource] of by)
    if (resource.resourceType === "Provenance" && (resource.target ?? []).some((t) => reached.has(t.reference)))
      queue.push(url);
  spread();
  for (const [url, resource] of by)
    if (!reached.has(url)) fault("reachable", url, `${resource.resourceType} hangs on nothing`);
}

function pointers(value) {
  if (Array.isArray(value)) return value.flatMap(pointers);
  if (value === null || typeof value !== "object") return [];
  return Object.entries(value).flatMap(([name, held]) =>
    name === "reference" && typeof held === "string" ? [held] : pointers(held),
  );
}

// The invariants, each compiled once.
const compiled = invariants.map(([key, on, text]) => [key, on, fhirpath.compile(text, r4)]);

function holds(bundle, fault) {
  const ask = (resource, where) => {
    for (const [key, on, run] of compiled) {
      if (on !== resource.resourceType && !(on === "*" && resource.resourceType !== "Bundle")) continue;
      const said = run(resource, { resource, rootResource: resource });
      if (said.length !== 1 || said[0] !== true) fault(key, where, `does not hold: ${JSON.stringify(said)}`);
    }
  };
  ask(bundle, "Bundle");
  for (const { fullUrl, resource } of bundle.entry ?? []) ask(resource, `${resource.resourceType} ${fullUrl}`);
}

let wrong = 0;
const files = process.argv.slice(2);
if (files.length === 0) {
  console.error("usage: node check.mjs FILE...");
  process.exit(2);
}
for (const file of files) {
  const faults = check(JSON.parse(readFileSync(file, "utf8")));
  wrong += faults.length;
  console.log(JSON.stringify(faults));
}
process.exitCode = wrong ? 1 : 0;
