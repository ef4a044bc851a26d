/* What may be changed, and what follows from it. */
#ifndef SETTINGS_H
#define SETTINGS_H

#ifndef F_CPU
#define F_CPU 16000000UL /* the crystal, Hz; `make F_CPU=7372800` for a board at 3.3 V */
#endif
#define SAMPLE_HZ 200UL
#define BAUD_RATE 115200UL
#define BUS_HZ 400000UL

/* Timer 1 counts the crystal divided by 8 and starts anew with every sample. */
#define PERIOD_US (1000000UL / SAMPLE_HZ)
#define PERIOD_TICKS (F_CPU / 8 / SAMPLE_HZ)
#if PERIOD_TICKS > 65536UL
#error "the timer cannot count so long a period: raise SAMPLE_HZ"
#endif

/* The serial port at double speed, F_CPU / 8 / (n + 1), rounded to the nearest. */
#define BAUD_DIVIDER ((F_CPU + 4 * BAUD_RATE) / (8 * BAUD_RATE) - 1)
#define BAUD_REAL (F_CPU / 8 / (BAUD_DIVIDER + 1))
#if BAUD_REAL * 1000 > BAUD_RATE * 1022 || BAUD_REAL * 1000 < BAUD_RATE * 978
#error "this crystal misses the baud by more than 2.2 %: take 16 MHz, 14.7456 MHz or 7.3728 MHz"
#endif

/* The two-wire bus: F_CPU / (16 + 2 n). A slow crystal gives a slower bus. */
#define BUS_DIVIDER (F_CPU > 16 * BUS_HZ ? (F_CPU / BUS_HZ - 16) / 2 : 0)

#endif
