"""The whole configuration; one description a key makes the example and the README's table."""

from __future__ import annotations

from pydantic_settings import (
    BaseSettings,
    PydanticBaseSettingsSource,
    SettingsConfigDict,
)

from strawbell.config.base import Lax, left_out
from strawbell.config.gardens import GardenSection
from strawbell.config.services import (
    CalendarSection,
    DesktopSection,
    EmailSection,
    FolderSection,
    HouseholdSection,
    InboxSection,
    PushSection,
    RulesSection,
    StateSection,
    TimesSection,
    WeatherSection,
)
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
    rules: RulesSection = left_out(RulesSection)
    """Thresholds of the judgement."""
    times: TimesSection = left_out(TimesSection)
    """When Strawbell speaks."""
    weather: WeatherSection = left_out(WeatherSection)
    """Where forecasts come from."""
    email: EmailSection | None = None
    """Notices by mail."""
    household: HouseholdSection = left_out(HouseholdSection)
    """Who lives with the bales."""
    inbox: InboxSection | None = None
    """Answers by mail."""
    push: PushSection | None = None
    """Notices to a phone."""
    desktop: DesktopSection = left_out(DesktopSection)
    """Notices on the desktop."""
    folder: FolderSection = left_out(FolderSection)
    """Notices as files."""
    calendar: CalendarSection = left_out(CalendarSection)
    """The season as calendar files."""
    state: StateSection = left_out(StateSection)
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
