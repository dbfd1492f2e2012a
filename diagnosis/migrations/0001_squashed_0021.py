"""Today's tables at once, for a shop that begins: the steps it replaces took a minute and more.

A shop that has some of those steps goes on by them, and comes to the same tables.
"""

import uuid

import django.core.validators
import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

import specs.migrations._tables_at_once


# Written by Django, a column a line.
# fmt: off
class Migration(migrations.Migration):
    replaces = [
        ("diagnosis", "0001_checklists_and_runs"),
        ("diagnosis", "0002_cause_of_a_finding_and_corrected_minutes"),
        ("diagnosis", "0003_name_the_causes_already_found"),
        ("diagnosis", "0004_drafts_and_the_shops_own_versions"),
        ("diagnosis", "0005_runs_of_one_job"),
        ("diagnosis", "0006_what_steps_require_open_and_leave"),
        ("diagnosis", "0007_rules_of_runs_and_timers"),
        ("diagnosis", "0008_what_steps_declare"),
        ("diagnosis", "0010_kinds_of_findings"),
        ("diagnosis", "0011_readings_judged"),
        ("diagnosis", "0012_readings_that_are_words"),
        ("diagnosis", "0013_how_a_step_loads_the_bike"),
        ("diagnosis", "0014_waits_left_early"),
        ("diagnosis", "0015_air_that_still_pulls"),
        ("diagnosis", "0016_what_is_told_of_a_unit"),
        ("diagnosis", "0020_repairs_that_wait_for_a_finding"),
        ("diagnosis", "0021_who_wrote_a_version"),
    ]

    initial = True

    dependencies = [
        ("specs", "0005_rules_of_values_and_parts"),
        ("workshop", "0001_people"),
    ]

    operations = [
        specs.migrations._tables_at_once.CreateModels(
            models=[
                migrations.CreateModel(
                    name='Complaint',
                    fields=[
                        ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                        ('key', models.SlugField(max_length=60, unique=True)),
                        ('title', models.CharField(max_length=80)),
                        ('suits', models.JSONField(default=list, help_text='fork, shock or both.')),
                        ('symptoms', models.JSONField(default=list, help_text='Words a customer uses for it.')),
                        ('is_routine', models.BooleanField(default=False)),
                        ('position', models.PositiveSmallIntegerField(default=0)),
                        ('retired_at', models.DateTimeField(blank=True, null=True)),
                        ('retired_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                    ],
                    options={
                        'ordering': ['position', 'title'],
                        'constraints': [models.CheckConstraint(condition=models.Q(('retired_by__isnull', True), ('retired_at__isnull', False), _connector='OR'), name='retired_complaint_says_when')],
                    },
                ),
                migrations.CreateModel(
                    name='Cause',
                    fields=[
                        ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                        ('key', models.SlugField(max_length=60, unique=True)),
                        ('title', models.CharField(max_length=120)),
                        ('for_customer', models.TextField()),
                        ('ends_life', models.JSONField(blank=True, default=list, help_text='Parts that are worn out where this is the cause.')),
                    ],
                    options={
                        'ordering': ['title'],
                    },
                ),
                migrations.CreateModel(
                    name='Checklist',
                    fields=[
                        ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                        ('complaint', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='checklists', to='diagnosis.complaint')),
                        ('key', models.SlugField(max_length=60)),
                        ('number', models.PositiveIntegerField(default=1, help_text='Version number, from 1.')),
                        ('title', models.CharField(max_length=120)),
                        ('summary', models.TextField(blank=True)),
                        ('suits', models.JSONField(default=list, help_text='fork, shock or both.')),
                        ('priors', models.JSONField(default=dict, help_text='Prior weight of each cause, by its key.')),
                        ('chances_source', models.CharField(max_length=160)),
                        ('is_current', models.BooleanField(default=True)),
                        ('origin', models.CharField(choices=[('shipped', 'As shipped'), ('shop', "The shop's own")], default='shipped', max_length=10)),
                        ('made_by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                        ('made_at', models.DateTimeField(auto_now_add=True)),
                        ('wording', models.PositiveIntegerField(default=1, help_text='One more each time a cause it names is worded anew, for those words have no version.')),
                        ('written_by', models.ManyToManyField(blank=True, help_text='Who changed it, but not who put it in use.', related_name='+', to=settings.AUTH_USER_MODEL)),
                    ],
                    options={
                        'ordering': ['complaint', 'key', '-number'],
                        'constraints': [models.UniqueConstraint(fields=('key', 'number'), name='checklist_versions_are_numbered'), models.UniqueConstraint(condition=models.Q(('is_current', True)), fields=('key',), name='one_current_version_of_a_checklist'), models.CheckConstraint(condition=models.Q(('number__gte', 1)), name='checklist_numbered_from_one')],
                    },
                ),
                migrations.CreateModel(
                    name='Step',
                    fields=[
                        ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                        ('checklist', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='steps', to='diagnosis.checklist')),
                        ('key', models.SlugField(max_length=60)),
                        ('position', models.PositiveSmallIntegerField()),
                        ('kind', models.CharField(choices=[('check', 'Check'), ('work', 'Work'), ('proof', 'Proof')], max_length=10)),
                        ('title', models.CharField(max_length=80)),
                        ('do', models.JSONField(default=list)),
                        ('look_for', models.JSONField(blank=True, default=list)),
                        ('counts_as_found', models.TextField(blank=True)),
                        ('minutes', models.FloatField(validators=[django.core.validators.MinValueValidator(0)])),
                        ('skill', models.CharField(default='mechanic', max_length=30)),
                        ('tools', models.JSONField(blank=True, default=list)),
                        ('consumables', models.JSONField(blank=True, default=list)),
                        ('cautions', models.JSONField(blank=True, default=list, help_text='Each with key, title and text.')),
                        ('needs', models.JSONField(blank=True, default=list)),
                        ('safety', models.BooleanField(default=False)),
                        ('only_if', models.JSONField(blank=True, default=dict)),
                        ('shows', models.JSONField(blank=True, default=list)),
                        ('readings', models.JSONField(blank=True, default=list)),
                        ('timer', models.JSONField(blank=True, null=True)),
                        ('bolts', models.JSONField(blank=True, default=list)),
                        ('ends_search', models.JSONField(blank=True, default=dict)),
                        ('requires', models.JSONField(blank=True, default=dict, help_text='Conditions of the unit that it can be done in, by part.')),
                        ('opens', models.JSONField(blank=True, default=list, help_text='Parts that are opened on the way.')),
                        ('proves', models.JSONField(blank=True, default=list, help_text='Parts that a proof says are good.')),
                        ('closed_by', models.SlugField(blank=True, db_index=False, default='', help_text='The step that puts together again what this one took apart.', max_length=60)),
                        ('services', models.JSONField(blank=True, default=list, help_text='Services that it is part of.')),
                        ('renews', models.JSONField(blank=True, default=list, help_text='Parts that are new after it.')),
                        ('frees_port', models.CharField(blank=True, default='', help_text='How it tries to free the port of an air spring.', max_length=20)),
                        ('spring_answer', models.BooleanField(default=False, help_text='The whole answer of the air spring stands here.')),
                        ('on_finding', models.BooleanField(default=False, help_text='Suggested only where a finding names it as its repair.')),
                        ('moves', models.CharField(blank=True, help_text='Whether the bike is pushed or ridden.', max_length=8)),
                        ('answers', models.JSONField(blank=True, default=dict)),
                        ('for_customer', models.TextField(blank=True)),
                        ('replaces', models.JSONField(blank=True, default=list, help_text='Safety and proof steps of earlier versions whose place it takes.')),
                    ],
                    options={
                        'ordering': ['checklist', 'position'],
                        'constraints': [models.UniqueConstraint(fields=('checklist', 'key'), name='step_key_once_in_a_checklist'), models.UniqueConstraint(fields=('checklist', 'position'), name='step_position_once_in_a_checklist'), models.CheckConstraint(condition=models.Q(('minutes__gte', 0)), name='step_minutes_not_negative')],
                    },
                ),
                migrations.CreateModel(
                    name='ChecklistDraft',
                    fields=[
                        ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                        ('key', models.SlugField(help_text='Key of the checklist.', max_length=60, unique=True)),
                        ('data', models.JSONField(help_text='The checklist in the file layout.')),
                        ('based_on', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='diagnosis.checklist')),
                        ('version', models.PositiveIntegerField(default=1)),
                        ('started_by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                        ('started_at', models.DateTimeField(auto_now_add=True)),
                        ('changed_by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                        ('changed_at', models.DateTimeField(auto_now=True)),
                        ('written_by', models.ManyToManyField(blank=True, help_text='Everybody who changed it.', related_name='+', to=settings.AUTH_USER_MODEL)),
                    ],
                    options={
                        'ordering': ['key'],
                    },
                ),
                migrations.CreateModel(
                    name='Run',
                    fields=[
                        ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                        ('checklist', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='runs', to='diagnosis.checklist')),
                        ('facts', models.JSONField(default=dict, help_text="The unit's facts when the run began.")),
                        ('job', models.UUIDField(db_index=True, default=uuid.uuid4, editable=False, help_text='Runs worked side by side on one unit share it.')),
                        ('started_at', models.DateTimeField(auto_now_add=True)),
                        ('started_by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                        ('ended_at', models.DateTimeField(blank=True, help_text='When nothing was left to do or prove in it; empty as long as there is.', null=True)),
                        ('in_suggested_order', models.BooleanField(default=False)),
                        ('version', models.PositiveIntegerField(default=1)),
                        ('said', models.PositiveIntegerField(default=0, help_text="How often something was told of the job's unit.")),
                    ],
                    options={
                        'ordering': ['pk'],
                        'constraints': [models.UniqueConstraint(fields=('job', 'checklist'), name='checklist_once_in_a_job'), models.CheckConstraint(condition=models.Q(('version__gte', 1)), name='run_version_from_one')],
                    },
                ),
                migrations.CreateModel(
                    name='Tick',
                    fields=[
                        ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                        ('run', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='ticks', to='diagnosis.run')),
                        ('step', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='ticks', to='diagnosis.step')),
                        ('client_id', models.UUIDField(default=uuid.uuid4, unique=True)),
                        ('outcome', models.CharField(choices=[('ruled_out', 'Ruled out'), ('found', 'Found'), ('cant_tell', "Can't tell"), ('done', 'Done'), ('left_out', 'Left out'), ('still_pulling', 'Still pulling: stop'), ('proved', 'Proved'), ('not_proved', 'Not proved'), ('left_early', 'Wait left early'), ('taken_back', 'Taken back')], max_length=16)),
                        ('cause', models.ForeignKey(blank=True, help_text='What was found, if named.', null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='diagnosis.cause')),
                        ('finding', models.CharField(blank=True, choices=[('cause', 'This is the cause'), ('by_the_way', 'By the way'), ('danger', 'Dangerous: do not ride')], help_text='What kind of finding it is, if it is one.', max_length=12)),
                        ('note', models.TextField(blank=True)),
                        ('counted_from', models.ForeignKey(blank=True, help_text='The tick in another run of the same job that this one follows from.', null=True, on_delete=django.db.models.deletion.CASCADE, related_name='counted_in', to='diagnosis.tick')),
                        ('by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                        ('ticked_at', models.DateTimeField(help_text="When it was ticked, by the tablet's clock if it was cut off.")),
                        ('received_at', models.DateTimeField(auto_now_add=True)),
                    ],
                    options={
                        'ordering': ['pk'],
                        'constraints': [models.CheckConstraint(condition=models.Q(('finding', ''), models.Q(('finding__in', ['cause', 'by_the_way', 'danger']), ('outcome', 'found')), _connector='OR'), name='only_what_was_found_is_a_finding'), models.CheckConstraint(condition=models.Q(('cause__isnull', True), models.Q(('finding', 'by_the_way'), _negated=True), _connector='OR'), name='by_the_way_is_not_the_cause'), models.CheckConstraint(condition=models.Q(('outcome__in', ['ruled_out', 'found', 'cant_tell', 'done', 'left_out', 'still_pulling', 'proved', 'not_proved', 'left_early', 'taken_back'])), name='tick_outcome_is_known'), models.CheckConstraint(condition=models.Q(('cause__isnull', True), ('outcome', 'found'), _connector='OR'), name='only_a_finding_names_a_cause')],
                    },
                ),
                migrations.CreateModel(
                    name='Reading',
                    fields=[
                        ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                        ('run', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='readings', to='diagnosis.run')),
                        ('step', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='readings_taken', to='diagnosis.step')),
                        ('key', models.SlugField(max_length=60)),
                        ('magnitude_si', models.FloatField(blank=True, null=True)),
                        ('typed', models.CharField(max_length=60)),
                        ('held_against', models.JSONField(blank=True, default=dict, help_text='What it was to be when it was read, SI: label, low, high, value, whole.')),
                        ('outside', models.BooleanField(default=False)),
                        ('reason', models.CharField(blank=True, help_text='Why it is outside all the same.', max_length=400)),
                        ('client_id', models.UUIDField(default=uuid.uuid4)),
                        ('by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                        ('read_at', models.DateTimeField()),
                    ],
                    options={
                        'ordering': ['pk'],
                        'constraints': [models.UniqueConstraint(fields=('client_id', 'key'), name='reading_sent_once')],
                    },
                ),
                migrations.CreateModel(
                    name='StepTimer',
                    fields=[
                        ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                        ('run', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='timers', to='diagnosis.run')),
                        ('step', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='timers', to='diagnosis.step')),
                        ('client_id', models.UUIDField(default=uuid.uuid4, unique=True)),
                        ('seconds', models.PositiveIntegerField()),
                        ('started_at', models.DateTimeField()),
                        ('stopped_at', models.DateTimeField(blank=True, null=True)),
                        ('by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                    ],
                    options={
                        'ordering': ['pk'],
                        'constraints': [models.UniqueConstraint(condition=models.Q(('stopped_at__isnull', True)), fields=('run', 'step'), name='one_running_timer_of_a_step'), models.CheckConstraint(condition=models.Q(('seconds__gt', 0)), name='timer_runs_some_time')],
                    },
                ),
                migrations.CreateModel(
                    name='MinutesCorrection',
                    fields=[
                        ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                        ('run', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='minutes_corrections', to='diagnosis.run')),
                        ('step', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='diagnosis.step')),
                        ('minutes', models.FloatField(validators=[django.core.validators.MinValueValidator(0, 'Minutes start at 0.'), django.core.validators.MaxValueValidator(1440, 'A day at most.')])),
                        ('client_id', models.UUIDField(default=uuid.uuid4, unique=True)),
                        ('by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                        ('at', models.DateTimeField(auto_now_add=True)),
                    ],
                    options={
                        'ordering': ['pk'],
                        'constraints': [models.CheckConstraint(condition=models.Q(('minutes__gte', 0), ('minutes__lte', 1440)), name='corrected_minutes_within_a_day')],
                    },
                ),
                migrations.CreateModel(
                    name='ToldOtherwise',
                    fields=[
                        ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                        ('run', models.ForeignKey(help_text='Where it was said.', on_delete=django.db.models.deletion.CASCADE, related_name='told', to='diagnosis.run')),
                        ('job', models.UUIDField(db_index=True)),
                        ('part', models.CharField(max_length=30)),
                        ('value', models.CharField(max_length=20)),
                        ('note', models.TextField(blank=True)),
                        ('after_tick', models.PositiveBigIntegerField(default=0)),
                        ('takes_back', models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.CASCADE, related_name='taken_back_by', to='diagnosis.toldotherwise')),
                        ('client_id', models.UUIDField(default=uuid.uuid4, unique=True)),
                        ('by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                        ('said_at', models.DateTimeField(auto_now_add=True)),
                    ],
                    options={
                        'ordering': ['pk'],
                    },
                ),
            ],
        ),
    ]
