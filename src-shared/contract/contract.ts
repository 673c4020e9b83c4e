/**
 * The one contract between interface and host, the same over Electron IPC and a WebSocket. Inputs are checked against
 * schemas at the host; every failure is one of the closed error codes. Typed arrays travel as binary.
 */
import { eventIterator, oc, type } from '@orpc/contract'
import { z } from 'zod'
import type { Campaign, Sweep } from '#shared/domain/capture.ts'
import { newAcceptedFlagSchema, newNoteSchema, newReviewsSchema } from '#shared/domain/desk.ts'
import type {
  AcceptedFlag,
  CaptureDetail,
  CapturePlace,
  HistoryEntry,
  NoteEntry,
  Overlay,
  RetakeEntry,
  SpectrumView,
  UndoAnswer,
  UndoSteps,
} from '#shared/domain/desk.ts'
import { campaignPlanSchema, planTemplateSchema, type PlanTemplate } from '#shared/domain/campaign-plan.ts'
import { ERROR_CODES } from '#shared/domain/errors.ts'
import { LIGHT_PARTS } from '#shared/domain/light.ts'
import { RUN_ANSWERS } from '#shared/domain/run.ts'
import type { EdgeSet } from '#shared/findings/campaign/moving-edge.ts'
import type { Library } from '#shared/findings/campaign/library.ts'
import { judgementSchema, type CampaignPoints, type Judgement } from '#shared/findings/campaign/figures.ts'
import { guidedAnswerSchema, guidedPlanSchema, type OpenSequence } from '#shared/domain/guided.ts'
import type { JobOutcome } from '#shared/domain/job-outcome.ts'
import type { LightReading } from '#shared/measure/light.ts'
import { latencyPlanSchema, type LatencyRun } from '#shared/domain/latency.ts'
import { levelSchema, sweepPlanSchema } from '#shared/domain/plan.ts'
import type { Preflight } from '#shared/domain/preflight.ts'
import { meterSchema, type MeterReading } from '#shared/domain/meter.ts'
import { newReadingSchema, type Reading } from '#shared/domain/reading.ts'
import { recipeSchema, type Recipe } from '#shared/domain/recipe.ts'
import type { Result, UncertaintyTerm } from '#shared/domain/result.ts'
import type { Run } from '#shared/domain/run.ts'
import { rigTargetSchema, SIM_FAULTS, SIM_SETTINGS, type DarkLevel, type SerialPortInfo } from '#shared/domain/rig.ts'
import {
  ARCHIVE_CHOICES,
  type ArchiveChoice,
  captureFilterSchema,
  measureIdSchema,
  newReviewSchema,
  overrideSchema,
} from '#shared/domain/views.ts'
import type {
  CaptureRow,
  Changed,
  HostEvent,
  HostState,
  LiveView,
  LogEntry,
  MatrixData,
  PlanCheck,
  RecipePreview,
  ReviewEntry,
  TraceView,
} from '#shared/domain/views.ts'
import type { CampaignResults } from '#shared/findings/campaign-results.ts'
import type { RecipeComparison } from '#shared/findings/compare.ts'
import type { RecipeSample } from '#shared/findings/recipe-sample.ts'
import {
  importMappingSchema,
  MAX_IMPORT_FILES,
  MAX_STAGED_PIECE_BYTES,
  type ImportPreview,
} from '#shared/domain/import.ts'
import { stimulusReportSchema, type StimulusCommand } from '#shared/domain/stimulus.ts'
import { exportRequestSchema, type ExportStep } from './exports.ts'

/** oRPC's typed errors: one entry `FAILED` carrying the detail of the closed union. */
const errorDetailSchema = z.object({ code: z.enum(ERROR_CODES), message: z.string(), remedy: z.string() })
const call = oc.errors({ FAILED: { status: 400, data: errorDetailSchema } })
/**
 * A call that the archive answers by itself, without anything being decided: by this operation of its table. One that
 * changes something says what is to be asked again.
 */
const stored = <N extends string, P extends object>(
  operation: N,
  procedure: P,
  changes?: Changed,
): P & { readonly operation: N; readonly changes?: Changed } =>
  Object.assign(procedure, { operation, ...(changes === undefined ? {} : { changes }) })
const id = z.int().min(1)
const sweepRef = z.strictObject({ sweepId: id })
const runRef = z.strictObject({ runId: id })
const sweepInRun = runRef.extend({ sweepId: id })
const jobRef = z.strictObject({ jobId: z.string().max(64) })
const recipeHashSchema = z.string().regex(/^[0-9a-f]{16}$/)
/** A span of a capture as so many columns of a plot. */
const captureView = z.strictObject({
  captureId: id,
  recipeHash: recipeHashSchema,
  columns: z.int().min(16).max(8192),
  fromS: z.number().optional(),
  toS: z.number().optional(),
})
const fileIdSchema = z.uuid()
const fileNameSchema = z.string().max(300)
const archivePathSchema = z.string().min(1).max(4096)

export const contract = {
  system: {
    info: call.output(
      type<{
        version: string
        host: 'desktop' | 'server'
        archivePath: string
        captures: number
        archiveBytes: number
        algorithm: string
      }>(),
    ),
    state: call.output(type<HostState>()),
    /** Which archive is open: the person's own or the demo library; null where it cannot be changed. */
    archive: call.output(type<ArchiveChoice | null>()),
    /**
     * Makes the demo library where it is not there yet, as a job that can be cancelled, and changes over to the archive;
     * pages then load anew. Answers which archive is open: after a cancelled job the one before.
     */
    openArchive: call.input(z.strictObject({ archive: z.enum(ARCHIVE_CHOICES) })).output(type<ArchiveChoice>()),
    /** First the present state, then every change. */
    watch: call.output(eventIterator(type<HostEvent>())),
    log: stored(
      'events',
      call
        .input(
          z.strictObject({
            sweepId: id.optional(),
            afterId: z.int().min(0).optional(),
            limit: z.int().min(1).max(2000).default(200),
          }),
        )
        .output(type<LogEntry[]>()),
    ),
    acknowledgeWarning: call.input(z.strictObject({ understood: z.literal(true) })).output(type<HostState>()),
  },
  rig: {
    ports: call.output(type<SerialPortInfo[]>()),
    connect: call.input(rigTargetSchema).output(type<HostState>()),
    disconnect: call.output(type<HostState>()),
    inject: call.input(z.strictObject({ fault: z.enum(SIM_FAULTS) })).output(type<HostState>()),
    /** Repeated short recordings for aiming the sensor; refused while a sweep runs. */
    monitor: call
      .input(z.strictObject({ on: z.boolean(), rangeV: z.number().min(0.001).max(100).optional() }))
      .output(type<HostState>()),
    /** Shows and records black, the level above it and white of a plan, and judges them; refused while a sweep runs. */
    preflight: call.input(z.strictObject({ plan: sweepPlanSchema })).output(type<Preflight>()),
    /** The volts of no light: the sensor is covered meanwhile. Every ladder taken after it at this range holds it. */
    dark: call.input(z.strictObject({ plan: sweepPlanSchema })).output(type<DarkLevel>()),
    live: call
      .input(z.strictObject({ since: z.int().min(0), columns: z.int().min(16).max(8192) }))
      .output(type<LiveView | null>()),
  },
  stimulus: {
    /** The page on the display under test attaches and is told what to show. */
    attach: call.output(eventIterator(type<StimulusCommand>())),
    report: call.input(stimulusReportSchema).output(type<null>()),
    /** Desktop: screens the stimulus window can open on. Empty on the loopback server. */
    screens: call.output(type<{ id: number; label: string; refreshHz: number; primary: boolean }[]>()),
    openWindow: call.input(z.strictObject({ screenId: z.int() })).output(type<HostState>()),
    closeWindow: call.output(type<HostState>()),
    /** `simulated` follows the controller without a screen; `page` uses the attached page or window. */
    use: call.input(z.strictObject({ kind: z.enum(['simulated', 'page']) })).output(type<HostState>()),
    /** The simulated display's own menu: from then on it is set by hand, whatever a plan says. */
    simulatedMenu: call
      .input(
        z.strictObject({
          setting: z.enum(SIM_SETTINGS).optional(),
          refreshHz: z.number().min(10).max(1000).optional(),
        }),
      )
      .output(type<HostState>()),
    /** One level by hand, on the patch and at the refresh of a plan; refused while a sweep runs. */
    show: call.input(z.strictObject({ plan: sweepPlanSchema, level: levelSchema })).output(type<HostState>()),
  },
  campaigns: {
    list: stored('campaigns', call.output(type<Campaign[]>())),
    create: stored(
      'createCampaign',
      call
        .input(
          z.strictObject({
            name: z.string().trim().min(1).max(100),
            display: z.string().trim().max(100).default(''),
            note: z.string().max(2000).default(''),
          }),
        )
        .output(type<Campaign>()),
      'campaigns',
    ),
    /** Changes what is given and keeps the rest. */
    update: stored(
      'updateCampaign',
      call
        .input(
          z.strictObject({
            campaignId: id,
            name: z.string().trim().min(1).max(100).optional(),
            display: z.string().trim().max(100).optional(),
            note: z.string().max(2000).optional(),
          }),
        )
        .output(type<Campaign>()),
      'campaigns',
    ),
    /** What usable means for a campaign; null while nobody chose. */
    judgement: stored('judgement', call.input(z.strictObject({ campaignId: id })).output(type<Judgement | null>())),
    /** Keeps the choice with the campaign; null goes back to the usual one. */
    judge: stored(
      'judge',
      call
        .input(z.strictObject({ campaignId: id, judgement: judgementSchema.nullable() }))
        .output(type<Judgement | null>()),
      'campaigns',
    ),
    /** Statistics of every listed sweep of a campaign under one recipe, cell by cell, with their summaries. */
    results: call
      .input(
        z.strictObject({
          campaignId: id,
          recipeHash: recipeHashSchema,
          measures: z.array(measureIdSchema).min(1).max(32),
        }),
      )
      .output(type<CampaignResults>()),
    /** What findings are drawn from: figures of one sweep a setting and refresh rate. */
    content: call
      .input(z.strictObject({ campaignId: id, recipeHash: recipeHashSchema }))
      .output(type<CampaignPoints>()),
    /** What a tracking eye gets of an edge, under every setting at one refresh rate; levels of the edge, codes. */
    edges: call
      .input(
        z.strictObject({
          campaignId: id,
          recipeHash: recipeHashSchema,
          refreshHz: z.number().positive(),
          levels: z.tuple([levelSchema, levelSchema]).optional(),
        }),
      )
      .output(type<EdgeSet | null>()),
  },
  /** Archives beside the one in use, opened only to read, so that their displays can be compared. */
  library: {
    /** Every campaign of every archive under a recipe; what cannot be read says why. */
    list: call.input(z.strictObject({ recipeHash: recipeHashSchema })).output(type<Library>()),
    /** A whole path on the host's machine; where the host has a file dialog, only one it knows. Answers how many were added. */
    add: call.input(z.strictObject({ path: archivePathSchema })).output(type<number>()),
    /** Adds what is chosen in the host's file dialog; answers how many. */
    choose: call.output(type<number>()),
    remove: call.input(z.strictObject({ path: archivePathSchema })).output(type<null>()),
    /** Measures what an archive lacks under a recipe, on a copy; answers with the job's id. */
    measure: call
      .input(z.strictObject({ path: archivePathSchema, recipeHash: recipeHashSchema }))
      .output(type<{ jobId: string }>()),
  },
  runs: {
    list: stored('runs', call.input(z.strictObject({ campaignId: id })).output(type<Run[]>())),
    create: call.input(z.strictObject({ campaignId: id, plan: campaignPlanSchema })).output(type<Run>()),
    /** Plans kept under a name, in order of name. */
    templates: stored('planTemplates', call.output(type<PlanTemplate[]>())),
    /** A name that is there takes the new plan. */
    saveTemplate: stored('savePlanTemplate', call.input(planTemplateSchema).output(type<PlanTemplate[]>()), 'sweeps'),
    deleteTemplate: stored(
      'deletePlanTemplate',
      call.input(planTemplateSchema.pick({ name: true })).output(type<PlanTemplate[]>()),
      'sweeps',
    ),
    start: call.input(runRef).output(type<HostState>()),
    pause: call.input(runRef).output(type<HostState>()),
    answer: call.input(runRef.extend({ answer: z.enum(RUN_ANSWERS) })).output(type<HostState>()),
    /** Leaves out a sweep that is due or at work; what it has is kept. */
    skip: call.input(sweepInRun).output(type<HostState>()),
    /** A skipped sweep is due again and goes on with what it lacks. */
    unskip: call.input(sweepInRun).output(type<HostState>()),
    /** A sweep that has captures is taken anew; the earlier one is hidden and kept. Answers with the new one. */
    retake: call.input(sweepInRun).output(type<Sweep>()),
    /** A hidden sweep stands in its place again, instead of the one that took it. */
    restore: call.input(sweepInRun).output(type<HostState>()),
  },
  readings: {
    list: stored(
      'readings',
      call
        .input(
          z.strictObject({
            campaignId: id,
            kind: z.string().max(40).optional(),
            sweepId: id.optional(),
            includeHidden: z.boolean().optional(),
          }),
        )
        .output(type<Reading[]>()),
    ),
    /** Asks a luminance meter or power analyser for one number; nothing is stored. */
    meter: call.input(z.strictObject({ meter: meterSchema, query: z.string().max(100) })).output(type<MeterReading>()),
    add: stored('addReading', call.input(newReadingSchema).output(type<Reading>()), 'readings'),
    /** Several at once: all of them, or none. */
    addAll: stored(
      'addReadings',
      call.input(z.strictObject({ readings: z.array(newReadingSchema).min(1).max(64) })).output(type<Reading[]>()),
      'readings',
    ),
    /** Takes a reading out of the lists or restores it; nothing is deleted. */
    hide: stored(
      'hideReading',
      call.input(z.strictObject({ readingId: id, hidden: z.boolean() })).output(type<Reading>()),
      'readings',
    ),
  },
  latency: {
    /** Takes events until the plan's are there; answers with the job's id. A reading is made of them at the end. */
    start: call.input(z.strictObject({ campaignId: id, plan: latencyPlanSchema })).output(type<{ jobId: string }>()),
    runs: stored('latencyRuns', call.input(z.strictObject({ campaignId: id.optional() })).output(type<LatencyRun[]>())),
  },
  guided: {
    /** Begins a sequence; answers with the id of its job, which cancels it. */
    start: call.input(z.strictObject({ campaignId: id, plan: guidedPlanSchema })).output(type<{ jobId: string }>()),
    resume: call.input(z.strictObject({ campaignId: id, sequenceId: id })).output(type<{ jobId: string }>()),
    answer: call.input(guidedAnswerSchema).output(type<HostState>()),
    /** Begun and not finished. */
    open: call.input(z.strictObject({ campaignId: id })).output(type<OpenSequence[]>()),
  },
  sweeps: {
    /** Hidden sweeps are listed only with `includeHidden`. */
    list: stored(
      'sweeps',
      call
        .input(z.strictObject({ campaignId: id.optional(), includeHidden: z.boolean().optional() }))
        .output(type<Sweep[]>()),
    ),
    /** An empty name takes it away. */
    rename: stored(
      'renameSweep',
      call.input(z.strictObject({ sweepId: id, name: z.string().trim().max(100) })).output(type<Sweep>()),
      'sweeps',
    ),
    /** Takes a sweep out of the lists or restores it; nothing of it is deleted. */
    hide: call.input(z.strictObject({ sweepId: id, hidden: z.boolean() })).output(type<Sweep>()),
    get: stored('sweep', call.input(sweepRef).output(type<Sweep>())),
    check: call.input(z.strictObject({ plan: z.unknown() })).output(type<PlanCheck>()),
    create: call.input(z.strictObject({ campaignId: id, plan: sweepPlanSchema })).output(type<Sweep>()),
    start: call.input(sweepRef).output(type<HostState>()),
    pause: call.input(sweepRef).output(type<HostState>()),
    resume: call.input(sweepRef).output(type<HostState>()),
    stop: call.input(sweepRef).output(type<HostState>()),
    /** Captures sent back and not taken again yet, of one sweep or of all; starting the sweep takes them. */
    retakes: stored('retakes', call.input(z.strictObject({ sweepId: id.optional() })).output(type<RetakeEntry[]>())),
    matrix: stored(
      'matrix',
      call
        .input(
          z.strictObject({
            sweepId: id,
            recipeHash: recipeHashSchema,
            measures: z.array(measureIdSchema).min(1).max(32),
          }),
        )
        .output(type<MatrixData>()),
    ),
  },
  captures: {
    list: stored('captures', call.input(captureFilterSchema).output(type<{ rows: CaptureRow[]; total: number }>())),
    get: stored(
      'detail',
      call.input(z.strictObject({ captureId: id, recipeHash: recipeHashSchema })).output(type<CaptureDetail>()),
    ),
    /** The next or previous capture of a list; from one that is not in it, the nearest that is. Null at its end. */
    neighbour: stored(
      'neighbour',
      call
        .input(z.strictObject({ filter: captureFilterSchema, captureId: id, direction: z.enum(['next', 'previous']) }))
        .output(type<CapturePlace | null>()),
    ),
    /** Where a capture is in a list; null when it is not in it. */
    position: stored(
      'position',
      call.input(z.strictObject({ filter: captureFilterSchema, captureId: id })).output(type<CapturePlace | null>()),
    ),
    trace: call.input(captureView).output(type<TraceView>()),
    /** Repeats of the same transition laid over a capture, their mean, and the capture's residual to it. */
    overlay: call.input(captureView).output(type<Overlay>()),
    spectrum: call
      .input(z.strictObject({ captureId: id, fromS: z.number(), toS: z.number() }))
      .output(type<SpectrumView>()),
    /** Result of one stored capture with marks moved by hand; nothing is stored. */
    previewOverride: call
      .input(z.strictObject({ captureId: id, recipeHash: recipeHashSchema, override: overrideSchema }))
      .output(type<Result>()),
    /** What the uncertainties of a transition's captures come from: root mean square of each cause over some of them. */
    causes: call
      .input(
        z.strictObject({
          captureIds: z.array(id).min(1).max(1000),
          recipeHash: recipeHashSchema,
          measure: measureIdSchema,
        }),
      )
      .output(type<UncertaintyTerm[]>()),
    setNote: call.input(newNoteSchema).output(type<NoteEntry>()),
  },
  light: {
    /** Periodic light in a steady part of a stored capture; a dark level of its own takes the place of the ladder's. */
    capture: call
      .input(
        z.strictObject({
          captureId: id,
          recipeHash: recipeHashSchema,
          part: z.enum(LIGHT_PARTS),
          darkV: z.number().nullable().default(null),
        }),
      )
      .output(type<LightReading>()),
    /** The same in a staged recording of a steady picture; nothing is stored. */
    recording: call
      .input(
        z.strictObject({
          fileId: fileIdSchema,
          name: fileNameSchema,
          mapping: importMappingSchema.nullable().default(null),
          darkV: z.number().nullable().default(null),
        }),
      )
      .output(type<LightReading>()),
  },
  recipes: {
    list: call.output(type<{ hash: string; recipe: Recipe }[]>()),
    /** A recipe is known by its parameters: saving equal ones adds nothing and answers with the name they have. */
    save: call.input(recipeSchema).output(type<{ hash: string; name: string; added: boolean }>()),
    /** Which recipe all screens use; remembered for the next start unless told otherwise. */
    use: call
      .input(z.strictObject({ recipeHash: recipeHashSchema, remember: z.boolean().default(true) }))
      .output(type<HostState>()),
    /** Result of one stored capture under an unsaved recipe, and its conditioned trace; nothing is stored. */
    preview: call
      .input(z.strictObject({ captureId: id, recipe: recipeSchema, columns: z.int().min(16).max(8192).optional() }))
      .output(type<RecipePreview>()),
    /** A spread sample under an unsaved recipe (b) and under the one in use (a); nothing is stored. */
    previewSample: call
      .input(
        z.strictObject({
          recipe: recipeSchema,
          campaignId: id.optional(),
          sweepId: id.optional(),
          count: z.int().min(1).max(500).default(60),
          seed: z.int().min(0).max(0xffffffff).default(1),
        }),
      )
      .output(type<RecipeSample>()),
    /** The stored results of a sweep under two recipes, one comparison a measure; differences are new − old. */
    compare: call
      .input(
        z.strictObject({
          sweepId: id,
          oldHash: recipeHashSchema,
          newHash: recipeHashSchema,
          measures: z.array(measureIdSchema).min(1).max(32),
          most: z.int().min(1).max(1000).default(10),
        }),
      )
      .output(
        type<{
          readonly unmeasured: { readonly old: number; readonly new: number }
          readonly comparisons: readonly RecipeComparison[]
        }>(),
      ),
    /** Measures every capture that lacks a result under the recipe; answers with the job's id. */
    reanalyse: call
      .input(z.strictObject({ recipeHash: recipeHashSchema, campaignId: id.optional(), sweepId: id.optional() }))
      .output(type<{ jobId: string }>()),
  },
  jobs: {
    cancel: call.input(jobRef).output(type<HostState>()),
    /** What the job asked a person for is done. */
    proceed: call.input(jobRef).output(type<HostState>()),
    /** What came of a job, or has so far. */
    outcome: call.input(jobRef).output(type<JobOutcome>()),
  },
  reviews: {
    add: call.input(newReviewSchema).output(type<ReviewEntry>()),
    /** The same decision on all captures of a scope that nobody has reviewed yet; undone in one step. */
    addMany: call.input(newReviewsSchema).output(type<{ captures: number }>()),
    /** Flags accepted for whole sweeps: they make none of their captures doubtful. */
    acceptedFlags: stored('acceptedFlags', call.output(type<AcceptedFlag[]>())),
    acceptFlag: stored('acceptFlag', call.input(newAcceptedFlagSchema).output(type<AcceptedFlag>()), 'reviews'),
    withdrawFlag: stored(
      'withdrawFlag',
      call.input(newAcceptedFlagSchema.pick({ sweepId: true, flag: true })).output(type<null>()),
      'reviews',
    ),
    /** Takes back the newest step, review or note, that stands; null when there is none. */
    undo: call.output(type<UndoAnswer | null>()),
    /** Puts back the step taken back last, unless another one came since. */
    redo: call.output(type<UndoAnswer | null>()),
    steps: call.output(type<UndoSteps>()),
    /** Newest first, with what was taken back. */
    history: stored(
      'history',
      call
        .input(z.strictObject({ captureId: id.optional(), limit: z.int().min(1).max(2000).default(200) }))
        .output(type<HistoryEntry[]>()),
    ),
  },
  files: {
    /** One piece of a chosen file, in order; null opens a new file. The host keeps it until it is given up. */
    stage: call
      .input(
        z.strictObject({
          fileId: fileIdSchema.nullable(),
          bytes: z
            .instanceof(Uint8Array)
            .refine((bytes) => bytes.length <= MAX_STAGED_PIECE_BYTES, 'A piece has at most 4 MiB.'),
        }),
      )
      .output(type<{ fileId: string }>()),
    unstage: call.input(z.strictObject({ fileIds: z.array(fileIdSchema).max(MAX_IMPORT_FILES) })).output(type<null>()),
    /** How a staged file would be read; guessed without a mapping. `columns`: width of the envelope, 0 for none. */
    importPreview: call
      .input(
        z.strictObject({
          fileId: fileIdSchema,
          name: fileNameSchema,
          mapping: importMappingSchema.nullable().default(null),
          columns: z.int().min(0).max(8192).default(0),
        }),
      )
      .output(type<ImportPreview>()),
    /** One sweep out of staged files, each with its level pair; answers with the job's id. */
    importStart: call
      .input(
        z.strictObject({
          campaignId: id,
          setting: z.string().trim().min(1).max(60),
          refreshHz: z.number().min(10).max(1000),
          files: z
            .array(
              z.strictObject({
                fileId: fileIdSchema,
                name: fileNameSchema,
                mapping: importMappingSchema,
                from: z.int().min(0).max(255),
                to: z.int().min(0).max(255),
                repeat: z.int().min(1).max(1000),
              }),
            )
            .min(1)
            .max(MAX_IMPORT_FILES),
        }),
      )
      .output(type<{ jobId: string }>()),
    /** A file made for the person; its pieces come no faster than they are taken, and end when the reader goes. */
    export: call.input(exportRequestSchema).output(eventIterator(type<ExportStep>())),
  },
}
export type Contract = typeof contract
