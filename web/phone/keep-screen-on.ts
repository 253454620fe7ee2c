// Keeps the screen from going dark while the bench view is in front, where the browser offers it.
export function keepScreenOn(): void {
  // Older browsers have none.
  const lock = navigator.wakeLock as WakeLock | undefined
  if (lock === undefined) return
  let held: WakeLockSentinel | undefined
  const ask = (): void => {
    if (document.visibilityState !== 'visible' || (held !== undefined && !held.released)) return
    lock.request('screen').then(
      (sentinel) => (held = sentinel),
      // An almost empty battery refuses; the view works all the same.
      () => undefined,
    )
  }
  // Browsers give it up whenever the page is left, and some grant it only after a touch.
  document.addEventListener('visibilitychange', ask)
  document.addEventListener('pointerup', ask)
  ask()
}
