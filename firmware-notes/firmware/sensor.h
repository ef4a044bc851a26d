/* The accelerometer: started, read, and judged. */
#ifndef SENSOR_H
#define SENSOR_H

#include "fault.h"

#include <stdbool.h>
#include <stdint.h>

struct sample {
    int16_t axis[3];
    int16_t centicelsius;
};

/* Finds the chip and makes it measure. To be called again after every fault: it may have lost its settings. */
enum fault sensor_begin(void);

/* Reads the newest sample; `fresh` says whether it is one that was not read before. */
enum fault sensor_read(struct sample *sample, bool *fresh);

#endif
