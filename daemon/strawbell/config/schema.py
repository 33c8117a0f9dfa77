"""The whole configuration; one description a key makes the example and the README's table."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field
from pydantic_settings import (
    BaseSettings,
    PydanticBaseSettingsSource,
    SettingsConfigDict,
)

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

    units: Annotated[Units, Field(strict=False)] = Field(
        default=Units.METRIC, description="How amounts and temperatures are shown."
    )
    gardens: Annotated[tuple[GardenSection, ...], Field(strict=False)] = Field(
        default=(),
        description="One table for each place. More may lie beside this file, in gardens.d/*.toml.",
    )
    feeds: Annotated[tuple[FeedSection, ...], Field(strict=False)] = Field(
        default=(), description="Feeds of your own, beside the built-in ones."
    )
    schedules: Annotated[tuple[ScheduleSection, ...], Field(strict=False)] = Field(
        default=(), description="Conditioning sequences of your own."
    )
    crops: Annotated[tuple[CropSection, ...], Field(strict=False)] = Field(
        default=(), description="Crops of your own, or other values for built-in ones."
    )
    rules: RulesSection = Field(
        default_factory=RulesSection, description="Thresholds of the judgement."
    )
    times: TimesSection = Field(default_factory=TimesSection, description="When Strawbell speaks.")
    weather: WeatherSection = Field(
        default_factory=WeatherSection, description="Where forecasts come from."
    )
    email: EmailSection | None = Field(default=None, description="Notices by mail.")
    household: HouseholdSection = Field(
        default_factory=HouseholdSection, description="Who lives with the bales."
    )
    inbox: InboxSection | None = Field(default=None, description="Answers by mail.")
    push: PushSection | None = Field(default=None, description="Notices to a phone.")
    desktop: DesktopSection = Field(
        default_factory=DesktopSection, description="Notices on the desktop."
    )
    folder: FolderSection = Field(default_factory=FolderSection, description="Notices as files.")
    calendar: CalendarSection = Field(
        default_factory=CalendarSection, description="The season as calendar files."
    )
    state: StateSection = Field(default_factory=StateSection, description="Where the store lies.")

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
