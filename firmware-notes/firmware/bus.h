/* The two-wire bus (I2C) to the accelerometer. Nothing here waits longer than a millisecond. */
#ifndef BUS_H
#define BUS_H

#include "fault.h"

#include <stdint.h>

void bus_begin(void);

/* Reads registers of a chip from `first` on. */
enum fault bus_read(uint8_t chip, uint8_t first, uint8_t *into, uint8_t count);

/* Writes one register of a chip. */
enum fault bus_write(uint8_t chip, uint8_t where, uint8_t value);

#endif
