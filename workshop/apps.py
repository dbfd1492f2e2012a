from django.apps import AppConfig
from django.core.checks import Tags, register
from django.db.models.signals import post_migrate, pre_migrate
from django.urls import register_converter


class WorkshopConfig(AppConfig):
    name = "workshop"

    def ready(self) -> None:
        """Say fields' errors in our words; keep what migrations do not know of in step: index, kept sums, triggers."""
        from workshop.kept import installing as kept
        from workshop.searching import checks, installing
        from workshop.staff import append_only
        from workshop.web.converters import KeyConverter
        from workshop.web.field_words import say_it_our_way

        say_it_our_way()
        register_converter(KeyConverter, "key")  # before any address is read
        register(checks.search_has_its_index, Tags.database)
        pre_migrate.connect(installing.before_migrating, sender=self, dispatch_uid="search index away")
        post_migrate.connect(installing.after_migrating, sender=self, dispatch_uid="search index back")
        pre_migrate.connect(kept.before_migrating, sender=self, dispatch_uid="kept sums away")
        post_migrate.connect(kept.after_migrating, sender=self, dispatch_uid="kept sums back")
        pre_migrate.connect(append_only.before_migrating, sender=self, dispatch_uid="security log open")
        post_migrate.connect(append_only.after_migrating, sender=self, dispatch_uid="security log closed")
