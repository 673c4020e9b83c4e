/** What the store's worker can be asked to do once the archive is open. Arguments and answers are plain data. */
import type { Archive } from './archive.ts'
import { addCapture, getCapture, overview, progress, trace } from './queries/captures.ts'
import { comparison } from './queries/comparison.ts'
import { addNote, addReview, history, redo, reviews, steps, undo } from './queries/decisions.ts'
import { detail, repeats, retakes } from './queries/desk.ts'
import { events, log } from './queries/events.ts'
import { recipesInUse, setRecipesInUse, usableCaptures } from './queries/in-use.ts'
import { inputs } from './queries/inputs.ts'
import { captures } from './queries/list.ts'
import { matrix } from './queries/matrix.ts'
import { neighbour, position } from './queries/place.ts'
import {
  addResults,
  getResult,
  measuredRecipes,
  recipes,
  saveRecipes,
  setGroupFlags,
  unmeasured,
} from './queries/results.ts'
import {
  campaigns,
  createCampaign,
  createSweep,
  getSweep,
  setLadder,
  setSweepHidden,
  setSweepState,
  sweeps,
} from './queries/sweeps.ts'

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
  setSweepHidden,
  setLadder,
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
  overview,
  inputs,
  result: getResult,
  unmeasured,
  measuredRecipes,
  addResults,
  comparison,
  setGroupFlags,
  matrix,
  saveRecipes,
  recipes,
  recipesInUse,
  setRecipesInUse,
  usableCaptures,
  addReview,
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
export type OperationName = keyof Operations
type WithoutArchive<T> = T extends [Archive, ...infer Rest] ? Rest : never
export type OperationArguments<K extends OperationName> = WithoutArchive<Parameters<Operations[K]>>
export type OperationValue<K extends OperationName> = ReturnType<Operations[K]>
