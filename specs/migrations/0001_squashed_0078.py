"""Today's tables at once, for a shop that begins: the steps it replaces took a minute and more.

A shop that has some of those steps goes on by them, and comes to the same tables.
"""

import django.core.validators
import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

import specs.migrations._tables_at_once
import specs.models.parts


# Written by Django, a column a line.
# fmt: off
class Migration(migrations.Migration):
    replaces = [
        ("specs", "0001_models_values_parts"),
        ("specs", "0002_typed_as_long_as_text"),
        ("specs", "0003_part_measures_and_bottles"),
        ("specs", "0004_legs_named_for_spring_and_damper"),
        ("specs", "0005_rules_of_values_and_parts"),
        ("specs", "0006_air_can_of_a_shock"),
        ("specs", "0007_kinds_of_unit"),
        ("specs", "0008_more_spec_quantities"),
        ("specs", "0076_other_numbers_of_parts"),
        ("specs", "0077_copied_values"),
        ("specs", "0078_values_taken_back"),
    ]

    initial = True

    dependencies = [
        ("workshop", "0001_people"),
    ]

    operations = [
        specs.migrations._tables_at_once.CreateModels(
            models=[
                migrations.CreateModel(
                    name='MendedValue',
                    fields=[
                        ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                        ('rule', models.CharField(help_text='Name of the constraint.', max_length=60)),
                        ('table', models.CharField(help_text='App and model of the row.', max_length=60)),
                        ('row', models.BigIntegerField(help_text='Primary key of the row.')),
                        ('field', models.CharField(max_length=60)),
                        ('was', models.TextField()),
                        ('became', models.TextField()),
                        ('at', models.DateTimeField(auto_now_add=True)),
                    ],
                    options={
                        'ordering': ['pk'],
                    },
                ),
                migrations.CreateModel(
                    name='Oil',
                    fields=[
                        ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                        ('name', models.CharField(max_length=80, unique=True)),
                        ('weight_label', models.CharField(blank=True, help_text='The “weight” printed on the bottle.', max_length=20)),
                        ('kv40_mm2_s', models.FloatField(blank=True, null=True)),
                        ('kv100_mm2_s', models.FloatField(blank=True, null=True)),
                        ('source_document', models.CharField(blank=True, max_length=160)),
                        ('is_demo', models.BooleanField(default=False)),
                    ],
                    options={
                        'ordering': ['name'],
                        'constraints': [models.CheckConstraint(condition=models.Q(models.Q(('kv40_mm2_s__isnull', True), ('kv40_mm2_s__gt', 0), _connector='OR'), models.Q(('kv100_mm2_s__isnull', True), ('kv100_mm2_s__gt', 0), _connector='OR')), name='oil_viscosities_above_zero', violation_error_message='A viscosity is above zero.')],
                    },
                ),
                migrations.CreateModel(
                    name='SuspensionModel',
                    fields=[
                        ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                        ('maker', models.CharField(max_length=60)),
                        ('name', models.CharField(max_length=80)),
                        ('year_from', models.PositiveSmallIntegerField()),
                        ('year_to', models.PositiveSmallIntegerField(blank=True, help_text='Empty while still made.', null=True)),
                        ('kind', models.CharField(choices=[('fork', 'fork'), ('shock', 'rear shock')], default='fork', max_length=10)),
                        ('spring_kind', models.CharField(blank=True, choices=[('air', 'air'), ('coil', 'coil'), ('air_coil', 'coil with air assist')], max_length=10)),
                        ('air_side', models.CharField(blank=True, choices=[('left', 'left leg'), ('right', 'right leg')], max_length=10)),
                        ('spring_retention', models.CharField(blank=True, choices=[('internal_circlip', 'an internal circlip'), ('wire_ring', 'a wire ring'), ('threaded_cap', 'a threaded cap')], max_length=20)),
                        ('ramp_chamber', models.BooleanField(blank=True, null=True)),
                        ('crowns', models.CharField(blank=True, choices=[('single', 'single crown'), ('twin', 'twin crown')], max_length=10)),
                        ('inverted', models.BooleanField(blank=True, null=True)),
                        ('foot_fastener', models.CharField(blank=True, choices=[('bolt', 'bolts'), ('nut', 'nuts')], max_length=10)),
                        ('damper_kind', models.CharField(blank=True, choices=[('sealed_cartridge', 'sealed cartridge'), ('open_bath', 'open bath'), ('closed_bladder', 'closed with a bladder')], max_length=20)),
                        ('crush_washers', models.BooleanField(blank=True, null=True)),
                        ('bleed_buttons', models.BooleanField(blank=True, null=True)),
                        ('foam_rings', models.BooleanField(blank=True, null=True)),
                        ('self_equalising', models.BooleanField(blank=True, null=True)),
                        ('reservoir', models.CharField(blank=True, choices=[('inline', 'none, an inline shock'), ('piggyback', 'a piggyback'), ('hose', 'on a hose of its own')], max_length=10)),
                        ('remote', models.CharField(blank=True, choices=[('none', 'none'), ('cable', 'worked by a cable'), ('hose', 'worked by a hose')], max_length=10)),
                        ('travels_mm', models.JSONField(blank=True, default=list, help_text='Travels it is made in, in mm.')),
                        ('is_demo', models.BooleanField(default=False)),
                        ('version', models.PositiveIntegerField(default=1)),
                    ],
                    options={
                        'ordering': ['maker', 'name', 'year_from'],
                        'constraints': [models.UniqueConstraint(fields=('maker', 'name', 'year_from'), name='one_model_per_maker_name_year'), models.CheckConstraint(condition=models.Q(('year_to__isnull', True), ('year_to__gte', models.F('year_from')), _connector='OR'), name='model_years_in_order'), models.CheckConstraint(condition=models.Q(models.Q(('spring_kind__in', ('coil', 'air_coil')), _negated=True), models.Q(('self_equalising', True), _negated=True), _connector='OR'), name='model_coil_levels_through_no_port', violation_error_message='A coil has no second air chamber, so nothing levels through a port. One of the two is wrong.'), models.CheckConstraint(condition=models.Q(models.Q(('spring_kind__in', ('coil', 'air_coil')), _negated=True), models.Q(('ramp_chamber', True), _negated=True), _connector='OR'), name='model_coil_has_no_ramp_chamber', violation_error_message='A coil has no ramp-up chamber. One of the two is wrong.'), models.CheckConstraint(condition=models.Q(models.Q(('inverted', True), _negated=True), models.Q(('bleed_buttons', True), _negated=True), _connector='OR'), name='model_inverted_has_no_bleed_buttons', violation_error_message='Bleed buttons are on lowers, and an inverted fork has thin tubes there. One of the two is wrong.'), models.CheckConstraint(condition=models.Q(('kind', 'fork'), ('crowns', ''), _connector='OR'), name='model_shock_has_no_crowns', violation_error_message='A rear shock has no crown. Leave this not known, or say that it is a fork.'), models.CheckConstraint(condition=models.Q(('kind', 'fork'), models.Q(('inverted', True), _negated=True), _connector='OR'), name='model_shock_is_not_inverted', violation_error_message='Only a fork is inverted. Leave this not known, or say that it is a fork.'), models.CheckConstraint(condition=models.Q(('kind', 'shock'), ('reservoir', ''), _connector='OR'), name='model_fork_has_no_reservoir', violation_error_message='A reservoir is noted of rear shocks only. Leave this not known, or say that it is a shock.')],
                    },
                ),
                migrations.CreateModel(
                    name='Part',
                    fields=[
                        ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                        ('number', models.CharField(max_length=30, unique=True)),
                        ('description', models.CharField(max_length=120)),
                        ('role', models.CharField(choices=[('wiper', 'Wiper'), ('foam_ring', 'Foam ring'), ('o_ring', 'O-ring'), ('foot_seal', 'Foot seal'), ('crush_washer', 'Crush washer'), ('air_spring', 'Air spring'), ('spring_seal', 'Spring seal kit'), ('bushing', 'Bushing'), ('oil', 'Oil'), ('grease', 'Grease'), ('varnish', 'Varnish'), ('stanchion_assembly', 'Upper assembly'), ('damper', 'Damper'), ('damper_seal', 'Damper seal kit'), ('other', 'Other')], default='other', max_length=20)),
                        ('measure', models.CharField(choices=[('piece', 'pieces'), ('ml', 'ml')], default='piece', max_length=10)),
                        ('size', models.CharField(blank=True, max_length=60)),
                        ('inside_mm', models.FloatField(blank=True, help_text='O-ring: inside diameter.', null=True, validators=[specs.models.parts.above_zero])),
                        ('section_mm', models.FloatField(blank=True, help_text='O-ring: thickness.', null=True, validators=[specs.models.parts.above_zero])),
                        ('stanchion_mm', models.FloatField(blank=True, help_text='Seal: stanchion.', null=True, validators=[specs.models.parts.above_zero])),
                        ('bottle_ml', models.DecimalField(blank=True, decimal_places=2, max_digits=8, null=True, validators=[specs.models.parts.above_zero])),
                        ('oil', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='parts', to='specs.oil')),
                        ('is_demo', models.BooleanField(default=False)),
                        ('version', models.PositiveIntegerField(default=1)),
                    ],
                    options={
                        'ordering': ['number'],
                        'constraints': [models.CheckConstraint(condition=models.Q(('bottle_ml__isnull', True), models.Q(('bottle_ml__gt', 0), ('measure', 'ml')), _connector='OR'), name='bottles_are_of_what_is_poured'), models.CheckConstraint(condition=models.Q(models.Q(('inside_mm__isnull', True), ('inside_mm__gt', 0), _connector='OR'), models.Q(('section_mm__isnull', True), ('section_mm__gt', 0), _connector='OR'), models.Q(('stanchion_mm__isnull', True), ('stanchion_mm__gt', 0), _connector='OR')), name='part_measures_above_zero', violation_error_message='A measure of a part is above zero.')],
                    },
                ),
                migrations.CreateModel(
                    name='ServiceKit',
                    fields=[
                        ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                        ('model', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='kits', to='specs.suspensionmodel')),
                        ('level', models.CharField(choices=[('lowers', 'Lowers service'), ('spring', 'Spring service'), ('full', 'Full service')], max_length=10)),
                        ('source_document', models.CharField(blank=True, max_length=160)),
                        ('is_demo', models.BooleanField(default=False)),
                    ],
                    options={
                        'ordering': ['model', 'level'],
                        'constraints': [models.UniqueConstraint(fields=('model', 'level'), name='one_kit_per_model_and_level')],
                    },
                ),
                migrations.CreateModel(
                    name='SpecValue',
                    fields=[
                        ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                        ('model', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='spec_values', to='specs.suspensionmodel')),
                        ('quantity', models.CharField(choices=[('max_pressure', 'Maximum pressure'), ('max_pressure_negative', 'Maximum pressure, negative chamber with its own valve'), ('max_pressure_ramp', 'Maximum pressure, ramp-up chamber'), ('gas_charge_pressure', 'Gas charge of the damper'), ('bleed_pressure', 'Pressure while the damper is bled'), ('oil_volume_air_leg', 'Lower-leg oil, spring side'), ('oil_volume_damper_leg', 'Lower-leg oil, damper side'), ('oil_volume_bath', 'Open bath, oil volume'), ('oil_level', 'Open bath, oil level below the top edge'), ('lower_leg_oil', 'Lower-leg oil'), ('damper_oil', 'Damper oil'), ('spring_grease', 'Spring grease'), ('foot_torque_air_leg', 'Foot fastener, spring side'), ('foot_torque_damper_leg', 'Foot fastener, damper side'), ('top_cap_torque_air_leg', 'Top cap, spring side'), ('top_cap_torque_damper_leg', 'Top cap, damper side'), ('axle_torque', 'Axle'), ('caliper_torque', 'Caliper bolts'), ('stem_torque', 'Stem bolts'), ('seal_head_torque', 'Threaded seal head'), ('steerer_clamp_torque', 'Crown, clamp of the steerer'), ('upper_crown_torque', 'Upper crown, clamps of the legs'), ('lower_crown_torque', 'Lower crown, clamps of the legs'), ('shock_bolt_torque_front', 'Shock bolt, front eyelet'), ('shock_bolt_torque_rear', 'Shock bolt, rear eyelet'), ('piston_bore', 'Air piston bore'), ('air_shaft', 'Air shaft diameter'), ('damper_shaft', 'Damper shaft diameter'), ('damper_body', 'Damper body inside the air can'), ('stanchion', 'Stanchion diameter'), ('positive_volume', 'Positive chamber volume, extended'), ('negative_volume', 'Negative chamber volume, extended'), ('lower_leg_volume', 'Lower-leg air volume, extended'), ('port_travel', 'Transfer port, travel from extended'), ('seal_friction', 'Friction of the seals'), ('sag_low', 'Sag, from'), ('sag_high', 'Sag, to'), ('rebound_clicks', 'Rebound range'), ('compression_clicks', 'Compression range'), ('foot_key', 'Key or socket at the feet'), ('top_cap_socket', 'Socket of the top caps'), ('seal_head_socket', 'Socket of the threaded seal head'), ('axle_key', 'Key of the axle'), ('wiper_size', 'Wiper'), ('foam_ring_size', 'Foam ring'), ('lowers_interval_hours', 'Lowers service, ride hours'), ('lowers_interval_months', 'Lowers service, months'), ('spring_interval_hours', 'Spring service, ride hours'), ('spring_interval_months', 'Spring service, months'), ('full_interval_hours', 'Full service, ride hours'), ('full_interval_months', 'Full service, months')], max_length=40)),
                        ('travel_mm', models.PositiveSmallIntegerField(default=0, help_text='Only for this travel; 0 is for every travel.')),
                        ('magnitude_si', models.FloatField(blank=True, null=True)),
                        ('typed', models.CharField(blank=True, help_text='The value as it was typed, with its unit; empty when withdrawn.', max_length=120)),
                        ('text', models.CharField(blank=True, max_length=120)),
                        ('tolerance_si', models.FloatField(blank=True, help_text='Plus or minus, in SI.', null=True)),
                        ('source_document', models.CharField(max_length=160)),
                        ('source_revision', models.CharField(blank=True, max_length=40)),
                        ('source_page', models.CharField(blank=True, max_length=40)),
                        ('copied_from', models.ForeignKey(blank=True, help_text='The sister model that this version was copied from, with its source.', null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='specs.suspensionmodel')),
                        ('is_demo', models.BooleanField(default=False)),
                        ('number', models.PositiveIntegerField(default=1, help_text='Version number, from 1.')),
                        ('is_current', models.BooleanField(default=True)),
                        ('entered_by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                        ('entered_at', models.DateTimeField(auto_now_add=True)),
                        ('checked_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                        ('checked_at', models.DateTimeField(blank=True, null=True)),
                        ('withdrawn', models.BooleanField(default=False, help_text='This version says: the value is not known after all.')),
                        ('taken_back_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                        ('taken_back_at', models.DateTimeField(blank=True, help_text='When the file that brought this version in was taken back.', null=True)),
                    ],
                    options={
                        'ordering': ['model', 'quantity', 'travel_mm', '-number'],
                        'constraints': [models.UniqueConstraint(condition=models.Q(('is_current', True)), fields=('model', 'quantity', 'travel_mm'), name='one_current_spec_value'), models.UniqueConstraint(fields=('model', 'quantity', 'travel_mm', 'number'), name='spec_value_versions_are_numbered'), models.CheckConstraint(condition=models.Q(('magnitude_si__isnull', False), models.Q(('text', ''), _negated=True), ('withdrawn', True), _connector='OR'), name='spec_value_says_something'), models.CheckConstraint(condition=models.Q(('source_document', ''), _negated=True), name='spec_value_has_a_source'), models.CheckConstraint(condition=models.Q(('checked_by__isnull', True), ('entered_by__isnull', True), models.Q(('checked_by', models.F('entered_by')), _negated=True), _connector='OR'), name='spec_value_checked_by_second_person'), models.CheckConstraint(condition=models.Q(models.Q(('checked_at__isnull', True), ('checked_by__isnull', True)), models.Q(('checked_at__isnull', False), ('checked_by__isnull', False)), _connector='OR'), name='checked_value_says_who_and_when'), models.CheckConstraint(condition=models.Q(('tolerance_si__isnull', True), ('tolerance_si__gte', 0), _connector='OR'), name='spec_value_tolerance_not_negative', violation_error_message='A tolerance is plus or minus: enter it without a sign.'), models.CheckConstraint(condition=models.Q(('number__gte', 1)), name='spec_value_numbered_from_one'), models.CheckConstraint(condition=models.Q(('taken_back_at__isnull', True), models.Q(('checked_at__isnull', True), ('is_current', False)), _connector='OR'), name='spec_value_taken_back_is_not_current'), models.CheckConstraint(condition=models.Q(('copied_from__isnull', True), models.Q(('copied_from', models.F('model')), _negated=True), _connector='OR'), name='spec_value_copied_from_another_model')],
                    },
                ),
                migrations.CreateModel(
                    name='KitLine',
                    fields=[
                        ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                        ('kit', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='lines', to='specs.servicekit')),
                        ('part', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='kit_lines', to='specs.part')),
                        ('quantity', models.DecimalField(decimal_places=2, max_digits=8, validators=[django.core.validators.MinValueValidator(0)])),
                        ('note', models.CharField(blank=True, max_length=120)),
                    ],
                    options={
                        'ordering': ['pk'],
                        'constraints': [models.UniqueConstraint(fields=('kit', 'part'), name='part_once_in_a_kit'), models.CheckConstraint(condition=models.Q(('quantity__gt', 0)), name='kit_line_takes_something')],
                    },
                ),
                migrations.CreateModel(
                    name='PartNumber',
                    fields=[
                        ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                        ('part', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='other_numbers', to='specs.part')),
                        ('kind', models.CharField(choices=[('former', 'Former number'), ('code', 'Code to scan')], max_length=6)),
                        ('number', models.CharField(max_length=60)),
                    ],
                    options={
                        'ordering': ['kind', 'number'],
                        'indexes': [models.Index(fields=['number'], name='other_number_of_a_part')],
                        'constraints': [models.UniqueConstraint(fields=('part', 'kind', 'number'), name='other_number_once_of_a_part'), models.UniqueConstraint(condition=models.Q(('kind', 'code')), fields=('number',), name='code_is_of_one_part'), models.CheckConstraint(condition=models.Q(('number', ''), _negated=True), name='other_number_is_not_empty')],
                    },
                ),
                migrations.CreateModel(
                    name='StandIn',
                    fields=[
                        ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                        ('part', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='stand_ins', to='specs.part')),
                        ('other', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='stands_in_for', to='specs.part')),
                        ('kind', models.CharField(choices=[('superseded', 'Superseded by'), ('instead', 'May be used instead')], max_length=10)),
                        ('reason', models.CharField(max_length=120)),
                    ],
                    options={
                        'ordering': ['kind', 'pk'],
                        'constraints': [models.UniqueConstraint(fields=('part', 'other'), name='stand_in_once_for_a_part'), models.UniqueConstraint(condition=models.Q(('kind', 'superseded')), fields=('part',), name='superseded_by_one_part'), models.CheckConstraint(condition=models.Q(('part', models.F('other')), _negated=True), name='stand_in_is_another_part', violation_error_message='A part cannot stand in for itself.'), models.CheckConstraint(condition=models.Q(('reason', ''), _negated=True), name='stand_in_says_why')],
                    },
                ),
            ],
        ),
    ]
