// Conditions read from a machine: a made tree of the kernel's files, a made SMBIOS table, what the plan says beside it; and the doctor's words on them.
import { chmodSync, mkdirSync, writeFileSync } from 'node:fs'
import { dirname, join } from 'node:path'
import { conditionsSchema } from '@guardband/model'
import { expect, test } from 'vitest'
import { conditionsOfThisMachine, mergeConditions } from '../conditions.ts'
import { captureConditions } from '../conditions-linux.ts'
import { conditionFindings, findingLines } from '../doctor.ts'
import { memoryModules } from '../smbios.ts'
import { temporaryFolder } from './kit.ts'

const MACHINE: Readonly<Record<string, string>> = {
  'etc/os-release': 'NAME="Bench System"\nPRETTY_NAME="Bench System 4 (heron)"\nBUILD_ID=2026-10\n',
  'proc/sys/kernel/osrelease': '6.9.1-bench\n',
  'proc/sys/kernel/version': '#1 SMP 2026-10-02\n',
  'proc/cpuinfo': 'processor\t: 0\nmodel name\t: Quillon 14\nmicrocode\t: 0x2c\n\nprocessor\t: 1\nmicrocode\t: 0x2c\n',
  'proc/meminfo': 'MemTotal:       33554432 kB\nMemFree: 1 kB\n',
  'sys/devices/system/node/node0/x': '', 'sys/devices/system/node/node1/x': '',
  'sys/class/dmi/id/board_name': 'Cairn M2\n', 'sys/class/dmi/id/bios_vendor': 'Hollin\n', 'sys/class/dmi/id/bios_version': '1.09\n', 'sys/class/dmi/id/bios_date': '10/02/2026\n',
  'sys/class/drm/card0/device/uevent': 'DRIVER=scene\n', 'sys/class/drm/card0/gt_min_freq_mhz': '1400\n', 'sys/class/drm/card0/gt_max_freq_mhz': '1400\n',
  'sys/class/drm/card1/device/power_dpm_force_performance_level': 'auto\n', 'sys/class/drm/card0-HDMI-A-1/x': '',
  'sys/class/nvme/nvme0/device/uevent': 'DRIVER=store\n', 'sys/module/store/version': '1.0\n',
  'sys/block/sda/device/uevent': 'DRIVER=sd\n', 'sys/class/scsi_host/host0/proc_name': 'shelf\n',
  'sys/devices/system/cpu/cpu0/cpufreq/scaling_driver': 'pace\n', 'sys/devices/system/cpu/cpu0/cpufreq/scaling_governor': 'performance\n',
  'sys/devices/system/cpu/cpu1/cpufreq/scaling_governor': 'powersave\n', 'sys/devices/system/cpu/cpu0/cpufreq/energy_performance_preference': 'balance\n',
  'sys/firmware/acpi/platform_profile': 'steady\n',
  'sys/class/hwmon/hwmon2/name': 'vane\n', 'sys/class/hwmon/hwmon2/pwm1_enable': '1\n', 'sys/class/hwmon/hwmon2/pwm1': '128\n', 'sys/class/hwmon/hwmon2/pwm2_enable': '2\n', 'sys/class/hwmon/hwmon2/fan1_input': '911\n',
}

test('what a machine says of itself is read from the kernel\'s files, and fits the records', () => {
  const { conditions } = mergeConditions({}, captureConditions(tree(MACHINE)))
  expect(conditions).toEqual({
    firmware: 'Cairn M2 Hollin 1.09 10/02/2026',
    microcode: '0x2c',
    systemImage: 'Bench System 4 (heron) 2026-10',
    kernel: '6.9.1-bench #1 SMP 2026-10-02',
    drivers: 'scene, shelf, store 1.0',
    memory: '32.0 GiB seen by the system in 2 nodes',
    powerPlan: 'pace, performance/powersave, balance, steady',
    graphicsClocks: 'card0 fixed at 1400 MHz, card1 auto',
    fans: 'vane pwm1 fixed 128 of 255, vane pwm2 automatic',
  })
  expect(conditionsSchema.safeParse(conditions).success).toBe(true)
})

test('a machine that says nothing, or more than a record holds, fails no start', () => {
  expect(captureConditions(join(temporaryFolder(), 'absent')).map(({ state }) => state)).toEqual(Array.from({ length: 9 }, () => 'not there'))
  const loud = tree(Object.fromEntries(Object.keys(MACHINE).map((path) => [path, `DRIVER=${'x'.repeat(3000)}\nmicrocode : ${'y'.repeat(3000)}\nNAME=${'z'.repeat(3000)}\n`])))
  expect(conditionsSchema.safeParse(mergeConditions({}, captureConditions(loud)).conditions).success).toBe(true)
  const folders = tree(Object.fromEntries(Object.keys(MACHINE).map((path) => [join(path, 'x'), 'a folder stands where a file should'])))
  expect(mergeConditions({}, captureConditions(folders)).conditions.firmware).toBeUndefined()
})

test('what the plan says stands; where the machine says something else, the start gets a remark', () => {
  const captured = captureConditions(tree(MACHINE))
  const { conditions, remarks } = mergeConditions({ firmware: '1.08', microcode: '0X2C', cooling: 'Burrow 120', ambient: 23, kernel: '6.9.1' }, captured)
  expect(conditions).toMatchObject({ firmware: '1.08', microcode: '0X2C', kernel: '6.9.1', cooling: 'Burrow 120', ambient: 23, powerPlan: 'pace, performance/powersave, balance, steady' })
  expect(remarks).toEqual(['the plan says firmware 1.08; the machine says Cairn M2 Hollin 1.09 10/02/2026'])
})

test.runIf(process.platform === 'linux')('they are read at each start: a tune may set the power plan', () => {
  const root = tree(MACHINE)
  const read = conditionsOfThisMachine({}, root)
  const before = read().conditions
  writeFileSync(join(root, 'sys/firmware/acpi/platform_profile'), 'quiet\n')
  expect([before.powerPlan, read().conditions.powerPlan]).toEqual(['pace, performance/powersave, balance, steady', 'pace, performance/powersave, balance, quiet'])
})

test('memory modules come out of the table: size in its three forms, both speeds, empty sockets left out', () => {
  const table = Buffer.concat([
    structure(0, Buffer.alloc(20), ['Hollin', '1.09']),
    module({ size: 16_384, speed: 5600, configured: 5200, texts: ['DIMM A1', 'Bank 0', 'Hollin', '0001', 'M-5600'] }),
    module({ size: 0, speed: 0, configured: 0, texts: ['DIMM A2'] }),
    module({ size: 0x7fff, extended: 65_536, speed: 0xffff, configured: 0xffff, extendedSpeed: 70_000, extendedConfigured: 68_000, texts: ['DIMM B1', 'Bank 1', 'Hollin', '0002', 'M-70000'] }),
    module({ size: 0x8000 | 512, speed: 0, configured: 0, texts: ['CHIP'] }),
    structure(127, Buffer.alloc(0), []),
    module({ size: 1, speed: 1, configured: 1, texts: ['behind the end'] }),
  ])
  expect(memoryModules(table)).toEqual([
    { locator: 'DIMM A1', size: 16_384, speed: 5600, configuredSpeed: 5200, maker: 'Hollin', part: 'M-5600' },
    { locator: 'DIMM B1', size: 65_536, speed: 70_000, configuredSpeed: 68_000, maker: 'Hollin', part: 'M-70000' },
    { locator: 'CHIP', size: 0.5, speed: null, configuredSpeed: null, maker: '', part: '' },
  ])
  for (let length = 0; length <= table.length; length++) expect(memoryModules(table.subarray(0, length)).length).toBeLessThanOrEqual(4)
  const root = tree(MACHINE)
  writeInto(root, 'sys/firmware/dmi/tables/DMI', table)
  expect(mergeConditions({}, captureConditions(root)).conditions.memory).toBe('DIMM A1: 16 GiB Hollin M-5600 at 5200 of 5600 MT/s, DIMM B1: 64 GiB Hollin M-70000 at 68000 of 70000 MT/s, CHIP: 1 MiB; 32.0 GiB seen by the system in 2 nodes')
})

test('the doctor tells a value, a lack of rights and an absence apart, in columns', () => {
  const lines = findingLines(conditionFindings([
    { key: 'firmware', label: 'firmware', state: 'read', value: '1.09' },
    { key: 'memory', label: 'memory', state: 'read', value: '32 GiB', note: 'its modules stand in a table that only root may read' },
    { key: 'fans', label: 'fans', state: 'rights', value: null },
    { key: 'drivers', label: 'drivers', state: 'not there', value: null },
  ]))
  expect(lines).toEqual([
    '  firmware  1.09',
    '- memory    32 GiB (its modules stand in a table that only root may read)',
    '- fans      needs more rights than this user has',
    "- drivers   not there; write it into the plan's conditions",
  ])
})

test.skipIf(process.getuid?.() === 0)('a table that only root may read is said so', () => {
  const root = tree(MACHINE)
  writeInto(root, 'sys/firmware/dmi/tables/DMI', Buffer.alloc(0))
  chmodSync(join(root, 'sys/firmware/dmi/tables/DMI'), 0)
  expect(captureConditions(root).find(({ key }) => key === 'memory')?.note).toContain('only root may read')
})

interface MadeModule {
  readonly size: number
  readonly extended?: number
  readonly speed: number
  readonly configured: number
  readonly extendedSpeed?: number
  readonly extendedConfigured?: number
  /** Locator, bank, maker, serial, part. */
  readonly texts: readonly string[]
}

/** Structure type 17 as version 3.3 of the specification lays it out, from offset 4 on. */
function module({ size, extended = 0, speed, configured, extendedSpeed = 0, extendedConfigured = 0, texts }: MadeModule): Buffer {
  const body = Buffer.alloc(0x5c - 4)
  body.writeUInt16LE(size, 0x0c - 4)
  body.writeUInt8(1, 0x10 - 4)
  body.writeUInt16LE(speed, 0x15 - 4)
  body.writeUInt8(texts.length > 2 ? 3 : 0, 0x17 - 4)
  body.writeUInt8(texts.length > 4 ? 5 : 0, 0x1a - 4)
  body.writeUInt32LE(extended, 0x1c - 4)
  body.writeUInt16LE(configured, 0x20 - 4)
  body.writeUInt32LE(extendedSpeed, 0x54 - 4)
  body.writeUInt32LE(extendedConfigured, 0x58 - 4)
  return structure(17, body, texts)
}

function structure(type: number, body: Buffer, texts: readonly string[]): Buffer {
  const head = Buffer.from([type, body.length + 4, 0, 0])
  const list = texts.length === 0 ? Buffer.from([0, 0]) : Buffer.concat([...texts.map((text) => Buffer.from(`${text}\0`, 'latin1')), Buffer.from([0])])
  return Buffer.concat([head, body, list])
}

function tree(files: Readonly<Record<string, string>>): string {
  const root = temporaryFolder()
  for (const [path, content] of Object.entries(files)) writeInto(root, path, content)
  return root
}

function writeInto(root: string, path: string, content: string | Buffer): void {
  mkdirSync(dirname(join(root, path)), { recursive: true })
  writeFileSync(join(root, path), content)
}
