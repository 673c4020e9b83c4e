/**
 * The table of what the archive can be asked to do. Each operation is written once, in its own file under `queries/`;
 * `Store`, the worker's dispatch and the calls that the contract marks as `stored` follow from this list. Arguments and
 * answers are plain data.
 */
import type { Archive } from './archive.ts'
import { acceptedFlags, acceptFlag, withdrawFlag } from './queries/accepted-flags.ts'
import {
  campaign,
  campaignMatrices,
  campaignPoints,
  campaigns,
  createCampaign,
  updateCampaign,
} from './queries/campaigns.ts'
import { addCapture, getCapture, progress, trace } from './queries/captures.ts'
import { deletePlanTemplate, judge, judgement, planTemplates, savePlanTemplate } from './queries/choices.ts'
import { comparison } from './queries/comparison.ts'
import { copyTo } from './queries/copy-to.ts'
import { addNote, addReview, addReviews, history, redo, reviews, steps, undo } from './queries/decisions.ts'
import { detail, repeats, retakes } from './queries/desk.ts'
import { events, log } from './queries/events.ts'
import { recipesInUse, setRecipesInUse, usableCaptures } from './queries/in-use.ts'
import { capturesMeasured, inputs } from './queries/inputs.ts'
import { addLatencyEvent, createLatencyRun, endLatencyRun, latencyEvents, latencyRuns } from './queries/latency.ts'
import { captures } from './queries/list.ts'
import { matrix } from './queries/matrix.ts'
import { neighbour, position } from './queries/place.ts'
import { addReading, addReadings, hideReading, readings } from './queries/readings.ts'
import {
  addResults,
  getResult,
  measuredRecipes,
  recipes,
  saveRecipe,
  setGroupFlags,
  unmeasured,
} from './queries/results.ts'
import { createRun, restoreSweep, retakeSweep, run, runs, setRunState } from './queries/runs.ts'
import { createSweep, renameSweep, setLadder, setSweepHidden, setSweepState, sweep, sweeps } from './queries/sweeps.ts'
import { verdicts } from './queries/verdicts.ts'

function info(archive: Archive): { path: string; captures: number; bytes: number } {
  const captureCount = Number(archive.sql('SELECT count(*) FROM capture').pluck().get())
  const pages = Number(archive.db.pragma('page_count', { simple: true }))
  const pageBytes = Number(archive.db.pragma('page_size', { simple: true }))
  return { path: archive.path, captures: captureCount, bytes: pages * pageBytes }
}

export const OPERATIONS = {
  info,
  copyTo,
  campaign,
  campaignMatrices,
  campaignPoints,
  updateCampaign,
  judgement,
  judge,
  planTemplates,
  savePlanTemplate,
  deletePlanTemplate,
  createRun,
  run,
  runs,
  setRunState,
  retakeSweep,
  restoreSweep,
  addReading,
  addReadings,
  readings,
  hideReading,
  createLatencyRun,
  latencyRuns,
  addLatencyEvent,
  latencyEvents,
  endLatencyRun,
  createCampaign,
  campaigns,
  createSweep,
  sweep,
  sweeps,
  setSweepState,
  setSweepHidden,
  renameSweep,
  setLadder,
  verdicts,
  addCapture,
  progress,
  captures,
  neighbour,
  position,
  detail,
  repeats,
  retakes,
  capture: getCapture,
  trace,
  inputs,
  result: getResult,
  capturesMeasured,
  unmeasured,
  measuredRecipes,
  addResults,
  comparison,
  setGroupFlags,
  matrix,
  saveRecipe,
  recipes,
  recipesInUse,
  setRecipesInUse,
  usableCaptures,
  addReview,
  addReviews,
  acceptedFlags,
  acceptFlag,
  withdrawFlag,
  addNote,
  undo,
  redo,
  steps,
  history,
  reviews,
  log,
  events,
}

type Operations = typeof OPERATIONS
/** The table as its callers see it: without the archive, and answered later. */
export type ArchiveOperations = {
  readonly [K in keyof Operations]: Operations[K] extends (archive: Archive, ...args: infer A) => infer R
    ? (...args: A) => Promise<R>
    : never
}

export function operationNamed(name: string): ((archive: Archive, ...args: readonly unknown[]) => unknown) | null {
  return Object.hasOwn(OPERATIONS, name)
    ? (OPERATIONS[name as keyof Operations] as (archive: Archive, ...args: readonly unknown[]) => unknown)
    : null
}
