/** What the store's worker can be asked to do once the archive is open. Arguments and answers are plain data. */
import type { Archive } from './archive.ts'
import { addCapture, getCapture, overview, progress, trace } from './queries/captures.ts'
import { comparison } from './queries/comparison.ts'
import { inputs } from './queries/inputs.ts'
import { captures } from './queries/list.ts'
import { matrix } from './queries/matrix.ts'
import { addResults, getResult, recipes, saveRecipes, setGroupFlags, unmeasured } from './queries/results.ts'
import { addReview, events, log, redoReview, reviews, undoReview } from './queries/reviews.ts'
import { campaigns, createCampaign, createSweep, getSweep, setLadder, setSweepState, sweeps } from './queries/sweeps.ts'

function info(archive: Archive): { path: string; captures: number; bytes: number } {
  const captureCount = Number(archive.sql('SELECT count(*) FROM capture').pluck().get())
  const pages = Number(archive.db.pragma('page_count', { simple: true }))
  const pageBytes = Number(archive.db.pragma('page_size', { simple: true }))
  return { path: archive.path, captures: captureCount, bytes: pages * pageBytes }
}

export const OPERATIONS = {
  info,
  createCampaign,
  campaigns,
  createSweep,
  sweep: getSweep,
  sweeps,
  setSweepState,
  setLadder,
  addCapture,
  progress,
  captures,
  capture: getCapture,
  trace,
  overview,
  inputs,
  result: getResult,
  unmeasured,
  addResults,
  comparison,
  setGroupFlags,
  matrix,
  saveRecipes,
  recipes,
  addReview,
  undoReview,
  redoReview,
  reviews,
  log,
  events,
}

type Operations = typeof OPERATIONS
export type OperationName = keyof Operations
type WithoutArchive<T> = T extends [Archive, ...infer Rest] ? Rest : never
export type OperationArguments<K extends OperationName> = WithoutArchive<Parameters<Operations[K]>>
export type OperationValue<K extends OperationName> = ReturnType<Operations[K]>
