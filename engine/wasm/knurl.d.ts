import type { components, paths } from './document.js';

/** What the service would send instead of an answer (RFC 9457). */
export type Problem = components['schemas']['Problem'];

export class KnurlProblem extends Error {
  readonly problem: Problem;
}

type Asked<M extends string> = { [P in keyof paths]: P extends `/v1/${string}` ? (paths[P] extends { [m in M]: { responses: { 200: { content: { 'application/json': unknown } } } } } ? P : never) : never }[keyof paths];
type Operation<P extends keyof paths, M extends 'get' | 'post'> = NonNullable<paths[P][M]>;
type Answer<O> = O extends { responses: { 200: { content: { 'application/json': infer A } } } } ? A : never;
type Question<O> = O extends { requestBody: { content: { 'application/json': infer Q } } } ? Q : never;
type Parameters<O, In extends 'path' | 'query'> = O extends { parameters: { [p in In]?: infer Q } } ? Q : never;
/** The parameters of the path where it has any, and those of the query string. */
type Addressed<O> = (O extends { parameters: { path: infer Q } } ? { path: Q } : unknown) & { query?: Parameters<O, 'query'> };

export interface Engine {
  /** Changes whenever an equal question could get another number. */
  readonly engineRevision: string;
  /** Changes with the data built in. */
  readonly dataRevision: string;
  /** Throws KnurlProblem, as post does. Both compute before they return: a drawing thread should leave them to a worker. */
  get<P extends Asked<'get'>>(path: P, ...at: object extends Addressed<Operation<P, 'get'>> ? [Addressed<Operation<P, 'get'>>?] : [Addressed<Operation<P, 'get'>>]): Answer<Operation<P, 'get'>>;
  post<P extends Asked<'post'>>(path: P, question: Question<Operation<P, 'post'>>, at?: { query?: Parameters<Operation<P, 'post'>, 'query'> }): Answer<Operation<P, 'post'>>;
  /** Any request as the wire has it: path with its query string; question and answer are JSON texts. Does not throw for a problem. */
  ask(method: string, path: string, question?: string): { status: number; answer: string };
}

/** Starts an engine. source is knurl.wasm: by default the one beside this module. */
export function load(source?: string | URL | Response | BufferSource | WebAssembly.Module): Promise<Engine>;

/** What worker.js takes as a message, and what it sends back under the same id. */
export interface Request { id: number | string; method: string; path: string; question?: string }
export interface Reply { id: number | string; status: number; answer: string }
