#include "chip.h"

#include <math.h>
#include <simavr/avr_twi.h>
#include <string.h>

enum { ADDRESS = 0x2A, ID = 0, CONTROL = 1, STATUS = 2, AXES = 3, CELSIUS = 9, LAST = 10 };
enum { ID_VALUE = 0x3C, RUN = 0x80, NEW = 1 };
#define COUNTS_PER_G 16384.0
#define CONVERSIONS_HZ 800

/* Uniform in 0..1: a linear congruential generator with Knuth's MMIX constants. */
static double uniform(struct chip *chip)
{
    chip->dice = chip->dice * 6364136223846793005u + 1442695040888963407u;
    return (double)(chip->dice >> 11) / 9007199254740992.0;
}

/* Normal: twelve uniform numbers, whose sum has variance 1. */
static double normal(struct chip *chip)
{
    double sum = -6;
    for (int n = 0; n < 12; n++)
        sum += uniform(chip);
    return sum;
}

static void put(struct chip *chip, int where, double value)
{
    int16_t word = (int16_t)lrint(fmax(-32768, fmin(32767, value)));
    chip->registers[where] = word & 0xff;
    chip->registers[where + 1] = (uint16_t)word >> 8;
}

static uint64_t conversions(const struct chip *chip)
{
    return chip->avr->cycle * CONVERSIONS_HZ / chip->avr->frequency;
}

/* The status is being read: the newest conversion goes into the registers. */
static void convert(struct chip *chip)
{
    const double degree = M_PI / 180;
    uint64_t now = conversions(chip);
    bool runs = chip->control & RUN && chip->trouble != TROUBLE_FROZEN;
    chip->registers[STATUS] = runs && now != chip->last_read ? NEW : 0;
    if (!runs)
        return;
    chip->last_read = now;
    double chord = sin(chip->chord_deg * degree) * cos(chip->span_deg * degree);
    double normal_axis = cos(chip->chord_deg * degree) * cos(chip->span_deg * degree);
    put(chip, AXES, COUNTS_PER_G * chord + chip->noise * normal(chip));
    put(chip, AXES + 2, COUNTS_PER_G * sin(chip->span_deg * degree) + chip->noise * normal(chip));
    put(chip, AXES + 4, COUNTS_PER_G * normal_axis + chip->noise * normal(chip));
    put(chip, CELSIUS, 128 * chip->celsius);
    chip->sampled(chip->avr->cycle);
}

static void reply(struct chip *chip, uint8_t kind, uint8_t value)
{
    avr_raise_irq(chip->bus + TWI_IRQ_INPUT, avr_twi_irq_msg(kind, ADDRESS << 1, value));
}

static void written(struct chip *chip, uint8_t value)
{
    if (chip->trouble == TROUBLE_NACK)
        return;
    reply(chip, TWI_COND_ACK, 1);
    if (!chip->told) {
        chip->told = true;
        chip->at = value;
    } else if (chip->at == CONTROL) {
        chip->control = value;
        chip->registers[CONTROL] = value;
    }
}

static uint8_t read_out(struct chip *chip)
{
    if (chip->at == STATUS)
        convert(chip);
    uint8_t value = chip->at <= LAST ? chip->registers[chip->at] : 0;
    chip->at++;
    return value;
}

static void from_bus(struct avr_irq_t *irq, uint32_t value, void *param)
{
    (void)irq;
    struct chip *chip = param;
    avr_twi_msg_irq_t message = {.u.v = value};
    uint8_t what = message.u.twi.msg;
    if (what & TWI_COND_STOP)
        chip->selected = chip->told = false;
    if (what & TWI_COND_START) {
        chip->selected = message.u.twi.addr >> 1 == ADDRESS && chip->trouble != TROUBLE_MUTE;
        if (!(message.u.twi.addr & 1))
            chip->told = false;
        if (chip->selected)
            reply(chip, TWI_COND_ACK, 1);
    }
    if (!chip->selected)
        return;
    if (what & TWI_COND_WRITE)
        written(chip, message.u.twi.data);
    if (what & TWI_COND_READ)
        reply(chip, TWI_COND_READ, read_out(chip));
}

void chip_power_on(struct chip *chip)
{
    memset(chip->registers, 0, sizeof chip->registers);
    chip->registers[ID] = ID_VALUE;
    chip->control = 0;
    chip->selected = chip->told = false;
}

void chip_attach(struct chip *chip, avr_t *avr)
{
    chip->avr = avr;
    chip->bus = avr_io_getirq(avr, AVR_IOCTL_TWI_GETIRQ(0), 0);
    avr_irq_register_notify(chip->bus + TWI_IRQ_OUTPUT, from_bus, chip);
    chip_power_on(chip);
}
