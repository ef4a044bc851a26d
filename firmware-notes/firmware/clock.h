/* The sampling clock: timer 1 gives the beat, and the time since power-on in microseconds. */
#ifndef CLOCK_H
#define CLOCK_H

#include <stdint.h>

void clock_begin(void);

/* Sleeps until the next beat; says how many have passed since the last call, 1 when nothing took too long. */
uint8_t clock_wait(void);

/* Microseconds since power-on; back to 0 after 2^32. */
uint32_t clock_micros(void);

#endif
