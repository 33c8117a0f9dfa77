"""The whole configuration; one description a key makes the example and the README's table."""

from __future__ import annotations

from pydantic_settings import BaseSettings, PydanticBaseSettingsSource, SettingsConfigDict

from strawbell.config import services
from strawbell.config.base import Lax, left_out
from strawbell.config.gardens import GardenSection
from strawbell.config.supplies import CropSection, FeedSection, ScheduleSection
from strawbell.model.garden import Units

ENVIRONMENT_PREFIX = "STRAWBELL_"
NESTED = "__"


class Settings(BaseSettings):
    """The configuration of one daemon.

    The layers are laid over each other in `strawbell.config.layers`, because a mistake has to
    name the file, variable or credential it came from; so only what is given counts here.
    """

    model_config = SettingsConfigDict(
        env_prefix=ENVIRONMENT_PREFIX,
        env_nested_delimiter=NESTED,
        enable_decoding=False,
        extra="forbid",
        frozen=True,
        strict=True,
        allow_inf_nan=False,
        hide_input_in_errors=True,
        validate_default=False,
    )

    units: Lax[Units] = Units.METRIC
    """How amounts and temperatures are shown."""
    gardens: Lax[tuple[GardenSection, ...]] = ()
    """One table for each place. More may lie beside this file, in gardens.d/*.toml."""
    feeds: Lax[tuple[FeedSection, ...]] = ()
    """Feeds of your own, beside the built-in ones."""
    schedules: Lax[tuple[ScheduleSection, ...]] = ()
    """Conditioning sequences of your own."""
    crops: Lax[tuple[CropSection, ...]] = ()
    """Crops of your own, or other values for built-in ones."""
    rules: services.RulesSection = left_out(services.RulesSection)
    """Thresholds of the judgement."""
    times: services.TimesSection = left_out(services.TimesSection)
    """When Strawbell speaks."""
    weather: services.WeatherSection = left_out(services.WeatherSection)
    """Where forecasts come from."""
    email: services.EmailSection | None = None
    """Notices by mail."""
    household: services.HouseholdSection = left_out(services.HouseholdSection)
    """Who lives with the bales."""
    inbox: services.InboxSection | None = None
    """Answers by mail."""
    push: services.PushSection | None = None
    """Notices to a phone."""
    desktop: services.DesktopSection = left_out(services.DesktopSection)
    """Notices on the desktop."""
    folder: services.FolderSection = left_out(services.FolderSection)
    """Notices as files."""
    calendar: services.CalendarSection = left_out(services.CalendarSection)
    """The season as calendar files."""
    state: services.StateSection = left_out(services.StateSection)
    """Where the store lies."""

    @classmethod
    def settings_customise_sources(
        cls,
        settings_cls: type[BaseSettings],
        init_settings: PydanticBaseSettingsSource,
        env_settings: PydanticBaseSettingsSource,
        dotenv_settings: PydanticBaseSettingsSource,
        file_secret_settings: PydanticBaseSettingsSource,
    ) -> tuple[PydanticBaseSettingsSource, ...]:
        """Take only what is handed over; see the class."""
        del settings_cls, env_settings, dotenv_settings, file_secret_settings
        return (init_settings,)
