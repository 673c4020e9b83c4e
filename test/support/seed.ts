/**
 * Where random tests begin: the same at every run, so that a failure is a defect and no chance. SLEWLIGHT_SEED tries
 * another; the test prints it.
 */
export const SEED = Number(process.env['SLEWLIGHT_SEED'] ?? 525_177)
