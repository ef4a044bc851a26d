/* The register map of the accelerometer.
 *
 * THIS MAP IS INVENTED. It stands for what such chips have in common: an identity, a control register, a status with a
 * flag for new data, three axes of 16 bits and a temperature. For the chip on your desk write its own numbers here, and
 * look through sensor.c with its data sheet at hand; nothing else needs to change. */
#ifndef CHIP_H
#define CHIP_H

#define CHIP_ADDRESS 0x2A /* seven bits */

#define CHIP_ID 0x00      /* read only */
#define CHIP_CONTROL 0x01 /* 0 at power-on: standby */
#define CHIP_STATUS 0x02  /* what follows is read in one go with it, the address counts up by itself: */
#define CHIP_X 0x03       /* x, y, z: two bytes each, the lower one first, two's complement */
#define CHIP_CELSIUS 0x09 /* two bytes, the lower one first, 1/128 degree Celsius */

#define CHIP_ID_VALUE 0x3C

#define CONTROL_RUN 0x80       /* measure */
#define CONTROL_RATE_800HZ 0x30
#define CONTROL_RANGE_2G 0x00  /* 16384 counts per g */

#define STATUS_NEW 0x01 /* measured since it was last read */

#endif
