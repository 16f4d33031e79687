// Makes the demo visit with types that were generated from the published
// document: node visit.js ADDRESS FOLDER. The compiler holds every question
// and every member read below to the document.
import { readFile } from "node:fs/promises";
import createClient from "openapi-fetch";
import type { components, paths } from "./document.js";

type Schemas = components["schemas"];

const [address, folder] = process.argv.slice(2) as [string, string];
const knurl = createClient<paths>({ baseUrl: address });

let answers = 0;

function held<T>(name: string, got: { data?: T; error?: unknown }): T {
  if (got.data === undefined) {
    throw new Error(`${name}: ${JSON.stringify(got.error)}`);
  }
  answers++;
  return got.data;
}

function want(name: string, holds: boolean): void {
  if (!holds) {
    throw new Error(name);
  }
}

async function question<Q>(name: string): Promise<Q> {
  return JSON.parse(await readFile(`${folder}/${name}.json`, "utf8")) as Q;
}

const point = held(
  "saturation",
  await knurl.GET("/v1/refrigerants/{designation}/saturation", {
    params: { path: { designation: "R-454B" }, query: { pressure: "118psig", units: "si" } },
  }),
);
want("a blend's dew temperature above its bubble temperature", point.dew_temperature!.value > point.bubble_temperature!.value);

const standing = held(
  "standing pressure",
  await knurl.POST("/v1/standing-pressure", {
    body: await question<Schemas["StandingPressureQuestion"]>("museum-standing-pressure"),
  }),
);
want("liquid indicated", standing.finding === "some_liquid_indicated");

const stability = held(
  "stability",
  await knurl.POST("/v1/stability", { body: await question<Schemas["StabilityQuestion"]>("museum-stability") }),
);
want("a word on every series", stability.series.length > 0);

const state = held(
  "superheat and subcooling",
  await knurl.POST("/v1/superheat-subcooling", {
    params: { query: { explain: true } },
    body: await question<Schemas["SuperheatSubcoolingQuestion"]>("museum-superheat-subcooling"),
  }),
);
want("cautions", (state.cautions ?? []).length > 0);

const diagnosis = held(
  "diagnosis",
  await knurl.POST("/v1/diagnosis", { body: await question<Schemas["DiagnosisQuestion"]>("museum-second-visit") }),
);
want("faults", diagnosis.faults.length > 0);

const hoses = held(
  "hose recovery",
  await knurl.POST("/v1/hose-recovery", { body: await question<Schemas["HoseRecoveryQuestion"]>("museum-hose-recovery") }),
);
want("cautions on hoses", (hoses.cautions ?? []).length > 0);

const record = held(
  "visit record",
  await knurl.POST("/v1/visit-record", { body: await question<Schemas["VisitRecordQuestion"]>("museum-visit-record") }),
);
want("a hash", typeof record !== "string" && record.document_hash.value.length === 64);

const refused = await knurl.GET("/v1/refrigerants/{designation}", { params: { path: { designation: "R-0" } } });
want("a typed problem", refused.response.status === 404 && refused.error !== undefined && "type" in refused.error);

console.log(`TypeScript client: ${answers} answers and one problem as the document says`);
