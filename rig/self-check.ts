// The self-check driver: a kernel of the rig's own, handed in by name, that verifies what it computes and counts what it went over.
import { SpokenError, type Plan, type PlanWorkload } from '@guardband/model'
import { NOTHING_MORE, type Driver, type DriverEnd, type DriverOrder, type Exposure } from './driver.ts'

export interface SelfCheckKernel {
  readonly name: string
  /** So long after its seconds are over, or after it is told to stop, it must have ended; past that it hangs. */
  readonly overrunSeconds?: number
  /** Rejects only where it could not be run at all. It leaves nothing at work behind it, however it ends. */
  readonly run: (order: SelfCheckOrder) => Promise<SelfCheckEnd>
}

export interface SelfCheckOrder {
  readonly seconds: number
  /** It ends when this is aborted, and says what it found until then. */
  readonly signal: AbortSignal
  /** What it went over so far: all that is known of a kernel that hangs. */
  readonly onProgress: (exposure: Exposure) => void
}

export interface SelfCheckEnd {
  readonly outcome: 'passed' | 'errors' | 'wrong result'
  readonly exposure: Exposure
  readonly place?: string
  readonly message?: string
}

/** Throws `no-kernel` for a plan that names one which this rig lacks: before its first step. */
export function requireKernels(plan: Plan, kernels: readonly SelfCheckKernel[]): void {
  for (const { name, selfCheck } of plan.workloads) if (selfCheck !== undefined) kernelOf(kernels, selfCheck.kernel, name)
}

export function selfCheckWorkload({ context, workload }: DriverOrder, { kernel: kernelName, seconds }: NonNullable<PlanWorkload['selfCheck']>): Driver {
  return {
    prepare: async () => {
      const kernel = kernelOf(context.kernels, kernelName, workload.name)
      return { carryOut: (signal) => carryOut(kernel, { seconds, signal, monotonic: context.sources.monotonic }) }
    },
  }
}

interface KernelRun {
  readonly seconds: number
  readonly signal: AbortSignal
  readonly monotonic: () => number
}

async function carryOut(kernel: SelfCheckKernel, { seconds, signal, monotonic }: KernelRun): Promise<DriverEnd> {
  const { overrunSeconds = OVERRUN_SECONDS } = kernel
  const over = new AbortController()
  const timers: NodeJS.Timeout[] = []
  const after = (wait: number, then: () => void) => void timers.push(setTimeout(then, Math.min(wait * 1000, LONGEST_TIMER)))
  const late = Promise.withResolvers<'hung' | 'let go'>()
  const onStop = () => after(overrunSeconds, () => late.resolve('let go'))
  let progress: Exposure | undefined
  const begun = monotonic()
  after(seconds + overrunSeconds, () => late.resolve('hung'))
  signal.addEventListener('abort', onStop, { once: true })
  if (signal.aborted) onStop()
  const order: SelfCheckOrder = { seconds, signal: AbortSignal.any([signal, over.signal]), onProgress: (exposure) => (progress = sound(exposure)) }
  const ended = runKernel(kernel, order)
  const found = await Promise.race([ended, late.promise.then((how): KernelEnd => ({ how }))])
  over.abort()
  for (const timer of timers) clearTimeout(timer)
  signal.removeEventListener('abort', onStop)
  const end = { ...NOTHING_MORE, seconds: Math.max(0, monotonic() - begun), ...(progress === undefined ? {} : { exposure: progress }) }
  switch (found.how) {
    case 'ended':
      return judged(found.end, end, { seconds, stopped: signal.aborted })
    case 'failed':
      return signal.aborted ? { ...end, outcome: 'stopped by a person' } : { ...end, outcome: 'errors', message: `the kernel ${kernel.name} could not be run: ${found.cause instanceof Error ? found.cause.message : String(found.cause)}` }
    case 'let go':
      return { ...end, outcome: 'stopped by a person', message: `the kernel ${kernel.name} had not ended ${overrunSeconds} s after it was told to` }
    case 'hung':
      return { ...end, outcome: 'hung', message: `the kernel ${kernel.name} had not ended ${overrunSeconds} s after its ${seconds} s` }
  }
}

async function runKernel(kernel: SelfCheckKernel, order: SelfCheckOrder): Promise<KernelEnd> {
  try {
    return { how: 'ended', end: await kernel.run(order) }
  } catch (cause) {
    return { how: 'failed', cause }
  }
}

type KernelEnd = { readonly how: 'ended'; readonly end: SelfCheckEnd } | { readonly how: 'failed'; readonly cause: unknown } | { readonly how: 'hung' | 'let go' }

/** A fault that it found stands, also where it was stopped over it; a pass that was cut short is none. */
function judged({ outcome, exposure, place, message }: SelfCheckEnd, end: Omit<DriverEnd, 'outcome'>, { seconds, stopped }: { readonly seconds: number; readonly stopped: boolean }): DriverEnd {
  const told = { ...end, exposure: sound(exposure), ...(place === undefined ? {} : { place: place.slice(0, LONGEST_PLACE) }), message: message ?? null }
  if (outcome !== 'passed' || !stopped || end.seconds >= seconds) return { ...told, outcome }
  return { ...told, outcome: 'stopped by a person' }
}

/** A journal takes no other figures, and one odd count must not cost the run its end. */
function sound({ seconds, passes, bytes }: Exposure): Exposure {
  return Object.fromEntries(Object.entries({ seconds, passes, bytes }).filter(([, count]) => count !== undefined && Number.isFinite(count) && count >= 0))
}

function kernelOf(kernels: readonly SelfCheckKernel[], wanted: string, workload: string): SelfCheckKernel {
  const kernel = kernels.find(({ name }) => name === wanted)
  if (kernel !== undefined) return kernel
  const has = kernels.length === 0 ? 'It has none.' : `It has: ${kernels.map(({ name }) => name).join(', ')}.`
  throw new SpokenError({ code: 'no-kernel', place: `workload ${workload}`, message: `this rig has no self-check kernel "${wanted}".`, mend: has })
}

/** A pass over much memory may take that long, on a machine that is busy otherwise. */
const OVERRUN_SECONDS = 60
/** Milliseconds; a timer set further off fires at once. */
const LONGEST_TIMER = 2 ** 31 - 1
/** As the journal allows. */
const LONGEST_PLACE = 500
