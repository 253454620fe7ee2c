// What surrounds a start, read from the machine itself (Linux): system, kernel, firmware, microcode, drivers, memory, power plan, graphics clocks, fans.
import { readFileSync, readdirSync } from 'node:fs'
import { join } from 'node:path'
import { fixed, type Conditions } from '@guardband/model'
import { memoryModules, type MemoryModule } from './smbios.ts'

export interface CapturedCondition {
  readonly key: keyof Conditions
  readonly label: string
  /** rights: it is there, and this user may not read it. */
  readonly state: 'read' | 'rights' | 'not there'
  /** Null unless it was read. */
  readonly value: string | null
  /** What of it is missing, and the mend. */
  readonly note?: string
}

/** Reads files below `root` only, writes nothing, and never throws: a start doesn't fail for what it can't tell. */
export function captureConditions(root: string): readonly CapturedCondition[] {
  const files = filesBelow(root)
  return [
    one('firmware', 'firmware', firmware(files)),
    one('microcode', 'microcode', { value: /^microcode\s*:\s*(\S+)/m.exec(files.text('proc/cpuinfo') ?? '')?.[1] ?? null }),
    one('systemImage', 'system', { value: systemName(files) }),
    one('kernel', 'kernel', { value: joined([files.text('proc/sys/kernel/osrelease'), files.text('proc/sys/kernel/version')]) }),
    one('drivers', 'drivers', { value: drivers(files) }),
    one('memory', 'memory', memory(files)),
    one('powerPlan', 'power plan', { value: powerPlan(files) }),
    one('graphicsClocks', 'graphics clocks', { value: graphicsClocks(files) }),
    one('fans', 'fans', { value: fans(files) }),
  ]
}

interface Found {
  readonly value: string | null
  readonly rights?: boolean
  readonly note?: string
}

function one(key: keyof Conditions, label: string, { value, rights = false, note }: Found): CapturedCondition {
  const text = value === null ? null : value.slice(0, LONGEST[key] ?? SHORT)
  return { key, label, state: text !== null ? 'read' : rights ? 'rights' : 'not there', value: text, ...(note === undefined ? {} : { note }) }
}

/** As the records allow (model/records/start.ts). */
const SHORT = 100
const LONGEST: Readonly<Partial<Record<keyof Conditions, number>>> = { firmware: 200, systemImage: 200, kernel: 200, drivers: 500, memory: 500, fans: 200 }

interface Files {
  /** Trimmed; null where it isn't there, is empty, or may not be read. */
  readonly text: (path: string) => string | null
  readonly bytes: (path: string) => { readonly kind: 'bytes'; readonly bytes: Uint8Array } | { readonly kind: 'rights' | 'not there' }
  readonly names: (path: string) => readonly string[]
}

function filesBelow(root: string): Files {
  const bytes: Files['bytes'] = (path) => {
    try {
      return { kind: 'bytes', bytes: readFileSync(join(root, path)) }
    } catch (cause) {
      const code = cause instanceof Error && 'code' in cause ? cause.code : undefined
      return { kind: code === 'EACCES' || code === 'EPERM' ? 'rights' : 'not there' }
    }
  }
  return {
    bytes,
    text: (path) => {
      const found = bytes(path)
      const text = found.kind === 'bytes' ? new TextDecoder().decode(found.bytes).replaceAll('\0', ' ').trim() : ''
      return text === '' ? null : text
    },
    names: (path) => {
      try {
        return readdirSync(join(root, path)).toSorted(byNumber)
      } catch {
        return []
      }
    },
  }
}

/** `card10` after `card2`. */
function byNumber(a: string, b: string): number {
  return a.localeCompare(b, 'en', { numeric: true })
}

/** Board, vendor, version and date, as the firmware says them of itself. */
function firmware({ text, names }: Files): Found {
  const folder = 'sys/class/dmi/id'
  const fields = ['board_name', 'bios_vendor', 'bios_version', 'bios_date'].map((name) => text(`${folder}/${name}`))
  if (fields.some((field) => field !== null)) return { value: joined(fields) }
  // Boards without those tables name themselves in their device tree.
  const model = text('proc/device-tree/model')
  return { value: model, ...(model === null && names(folder).length > 0 ? { rights: true } : {}) }
}

function systemName({ text }: Files): string | null {
  const fields = new Map((text('etc/os-release') ?? text('usr/lib/os-release') ?? '').split('\n').map((line) => {
    const [, key = '', value = ''] = /^([A-Z_]+)=(.*)$/.exec(line.trim()) ?? []
    return [key, value.replace(/^(["'])(.*)\1$/, '$2')]
  }))
  return joined([fields.get('PRETTY_NAME') ?? fields.get('NAME'), fields.get('IMAGE_VERSION') ?? fields.get('BUILD_ID')])
}

/** Modules that drive graphics and storage, loaded as modules or built in, with the versions that they give. */
function drivers({ text, names }: Files): string | null {
  const devices = [
    ...names('sys/class/drm').filter((name) => /^card\d+$/.test(name)).map((name) => `sys/class/drm/${name}/device`),
    ...names('sys/class/nvme').map((name) => `sys/class/nvme/${name}/device`),
    ...names('sys/block').map((name) => `sys/block/${name}/device`),
  ]
  const bound = devices.flatMap((device) => /^DRIVER=(\S+)$/m.exec(text(`${device}/uevent`) ?? '')?.[1] ?? [])
  const controllers = names('sys/class/scsi_host').flatMap((host) => text(`sys/class/scsi_host/${host}/proc_name`) ?? [])
  // `sd` and `sr` only say that a disk hangs on one of the controllers.
  const found = [...bound, ...controllers].filter((name) => name !== 'sd' && name !== 'sr' && name !== '<NULL>')
  const modules = [...new Set(found)].toSorted(byNumber).map((name) => {
    const version = text(`sys/module/${name.replaceAll('-', '_')}/version`)
    return version === null ? name : `${name} ${version}`
  })
  return modules.length === 0 ? null : modules.join(', ')
}

function memory(files: Files): Found {
  const kib = Number(/^MemTotal:\s*(\d+) kB/m.exec(files.text('proc/meminfo') ?? '')?.[1])
  const nodes = files.names('sys/devices/system/node').filter((name) => /^node\d+$/.test(name)).length
  const total = Number.isFinite(kib) ? `${fixed(kib / 1024 / 1024, 1)} GiB seen by the system${nodes > 1 ? ` in ${nodes} nodes` : ''}` : null
  const table = files.bytes('sys/firmware/dmi/tables/DMI')
  const modules = table.kind === 'bytes' ? memoryModules(table.bytes) : []
  const value = joined([modules.length === 0 ? undefined : modules.map(moduleText).join(', '), total], '; ')
  return table.kind === 'rights' ? { value, rights: true, note: 'its modules and their data rate stand in a table that only root may read' } : { value }
}

function moduleText({ locator, size, speed, configuredSpeed, maker, part }: MemoryModule): string {
  const rate = configuredSpeed ?? speed
  const rates = rate === null ? '' : speed !== null && configuredSpeed !== null && speed !== configuredSpeed ? ` at ${rate} of ${speed} MT/s` : ` at ${rate} MT/s`
  return `${locator === '' ? 'module' : locator}: ${joined([size === null ? undefined : sizeText(size), maker, part]) ?? 'of unknown size'}${rates}`
}

function sizeText(mib: number): string {
  return mib >= 1024 ? `${fixed(mib / 1024, mib % 1024 === 0 ? 0 : 1)} GiB` : `${fixed(mib, 0)} MiB`
}

/** What governs the core clocks, over all cores, and the board's own profile. */
function powerPlan({ text, names }: Files): string | null {
  const cores = names('sys/devices/system/cpu').filter((name) => /^cpu\d+$/.test(name))
  const over = (file: string) => [...new Set(cores.flatMap((core) => text(`sys/devices/system/cpu/${core}/cpufreq/${file}`) ?? []))].join('/')
  return joined([over('scaling_driver'), over('scaling_governor'), over('energy_performance_preference'), text('sys/firmware/acpi/platform_profile')], ', ')
}

/** Whether they are held: a level that was forced, or a lowest clock that equals the highest. What they are at this moment says nothing. */
function graphicsClocks({ text, names }: Files): string | null {
  const cards = names('sys/class/drm').filter((name) => /^card\d+$/.test(name))
  const found = cards.flatMap((card) => {
    const level = text(`sys/class/drm/${card}/device/power_dpm_force_performance_level`)
    if (level !== null) return [`${card} ${level}`]
    const [lowest, highest] = ['gt_min_freq_mhz', 'gt_max_freq_mhz'].map((file) => text(`sys/class/drm/${card}/${file}`))
    return lowest === null || highest === null ? [] : [`${card} ${lowest === highest ? `fixed at ${lowest} MHz` : `${lowest}-${highest} MHz`}`]
  })
  return found.length === 0 ? null : found.join(', ')
}

/** The policy of each fan that the board lets be set; its speed at this moment says nothing. */
function fans({ text, names }: Files): string | null {
  const found = names('sys/class/hwmon').flatMap((chip) => {
    const folder = `sys/class/hwmon/${chip}`
    return names(folder).flatMap((file) => {
      const fan = /^(pwm\d+)_enable$/.exec(file)?.[1]
      const mode = fan === undefined ? null : text(`${folder}/${file}`)
      if (fan === undefined || mode === null) return []
      // 0 full speed, 1 as set by hand, from 2 on the chip's own rules (the kernel's hwmon sysfs interface).
      const policy = mode === '0' ? 'full' : mode === '1' ? `fixed ${text(`${folder}/${fan}`) ?? '?'} of 255` : 'automatic'
      return [`${text(`${folder}/name`) ?? chip} ${fan} ${policy}`]
    })
  })
  return found.length === 0 ? null : found.join(', ')
}

function joined(parts: readonly (string | null | undefined)[], by = ' '): string | null {
  const said = parts.filter((part) => part !== null && part !== undefined && part !== '')
  return said.length === 0 ? null : said.join(by)
}
