/**
 * Width between the p and 1−p points of a first-order step response (time constant tau) averaged over a box of width
 * `box`, in the unit of both. Closed form of the convolution: (t − τ(1 − e^{−t/τ}))/W up to W, then
 * 1 − (τ/W)(e^{W/τ} − 1)e^{−t/τ}. Source: computed; equals the table of blur-edge values in the tests.
 */
export function firstOrderBoxWidth(tau: number, box: number, p: number): number {
  if (tau <= 0) return (1 - 2 * p) * box
  if (box <= 0) return tau * Math.log((1 - p) / p)
  const response = (t: number): number =>
    t <= box
      ? (t - tau * (1 - Math.exp(-t / tau))) / box
      : 1 - (tau / box) * (Math.exp((box - t) / tau) - Math.exp(-t / tau))
  const solve = (level: number): number => {
    let low = 0
    let high = box + tau * Math.log(1 / (1 - level)) + tau
    for (let i = 0; i < 80 && high - low > 1e-12 * high; i++) {
      const middle = (low + high) / 2
      if (response(middle) < level) low = middle
      else high = middle
    }
    return (low + high) / 2
  }
  return solve(1 - p) - solve(p)
}

/** Time constant whose averaged width (see firstOrderBoxWidth) equals `width`; 0 when the box alone is wider. */
export function firstOrderTauOf(width: number, box: number, p: number): number {
  if (width <= (1 - 2 * p) * box) return 0
  let low = 0
  let high = width / Math.log((1 - p) / p)
  for (let i = 0; i < 60 && high - low > 1e-9 * high; i++) {
    const middle = (low + high) / 2
    if (firstOrderBoxWidth(middle, box, p) < width) low = middle
    else high = middle
  }
  return (low + high) / 2
}
