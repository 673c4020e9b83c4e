/** The sweep that another screen linked to, as `#/bench?campaign=2&sweep=7`; nulls for anything else. */
export function linkedSweep(parameters: URLSearchParams): {
  readonly campaignId: number | null
  readonly sweepId: number | null
} {
  const numberIn = (name: string): number | null => {
    const text = parameters.get(name) ?? ''
    return /^[1-9]\d{0,8}$/.test(text) ? Number(text) : null
  }
  return { campaignId: numberIn('campaign'), sweepId: numberIn('sweep') }
}
