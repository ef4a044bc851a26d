#include "sensor.h"
#include "bus.h"
#include "chip.h"

enum fault sensor_begin(void)
{
    uint8_t id;
    enum fault fault = bus_read(CHIP_ADDRESS, CHIP_ID, &id, 1);
    if (fault)
        return fault;
    if (id != CHIP_ID_VALUE)
        return FAULT_WRONG_CHIP;
    return bus_write(CHIP_ADDRESS, CHIP_CONTROL, CONTROL_RUN | CONTROL_RATE_800HZ | CONTROL_RANGE_2G);
}

static int16_t word(const uint8_t *low)
{
    return (int16_t)((uint16_t)low[1] << 8 | low[0]);
}

enum fault sensor_read(struct sample *sample, bool *fresh)
{
    uint8_t bytes[1 + 6 + 2]; /* status, axes, temperature: one transfer, so that they belong together */
    enum fault fault = bus_read(CHIP_ADDRESS, CHIP_STATUS, bytes, sizeof bytes);
    if (fault)
        return fault;
    *fresh = bytes[0] & STATUS_NEW;
    for (uint8_t axis = 0; axis < 3; axis++)
        sample->axis[axis] = word(bytes + 1 + 2 * axis);
    sample->centicelsius = (int32_t)word(bytes + 7) * 25 / 32;
    return FAULT_NONE;
}
