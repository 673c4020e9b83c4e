import { z } from 'zod'

/** data/sweeps.json: what measuring again needs, and what a reader wants to know beside it. */
export const bundleSweepsSchema = z.array(
  z.strictObject({
    id: z.int(),
    setting: z.string(),
    refreshHz: z.number().positive(),
    /** The rig's trigger marked the light edge. */
    edgeAtTrigger: z.boolean(),
    levels: z.array(z.int()),
    repeats: z.int(),
    rigIdentity: z.string(),
    createdAt: z.string(),
    ladder: z
      .strictObject({
        steps: z.array(z.strictObject({ level: z.int(), meanV: z.number(), sdV: z.number(), peakToPeakV: z.number() })),
        darkV: z.number().nullable(),
        takenAt: z.string(),
      })
      .nullable(),
  }),
)
export type BundleSweep = z.infer<typeof bundleSweepsSchema>[number]
