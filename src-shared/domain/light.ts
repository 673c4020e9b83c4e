/** Which light of a capture is looked at: the steady light before the level change, after it has settled, or all of it. */
export const LIGHT_PARTS = ['before', 'after', 'record'] as const
export type LightPart = (typeof LIGHT_PARTS)[number]
