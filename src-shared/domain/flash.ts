/**
 * Least time between two level changes, s. WCAG 2.3.1 allows at most three flashes within any second, a flash being a
 * pair of opposing changes; Slewlight keeps to three single changes, which is stricter.
 */
export const FLASH_LIMIT_SPACING_S = 1 / 3
