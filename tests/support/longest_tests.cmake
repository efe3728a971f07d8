# Read by ctest after all tests are known; a name that is gone is no error. Seconds on one core, as
# measured; what takes less than three is left out.
foreach(entry IN ITEMS
    "tools.PagesInABrowser.FleetFitsAWideScreenAPhoneAndOneSheet 12" "tools.PagesInABrowser.ReportFitsAWideScreenAndAPhone 6"
    "tools.PagesInABrowser.WardPageFitsAWideScreenAndAPhone 6" "tools.PagesInABrowser.PrintOnAFewSheets 12"
    "view.SmallAndDenseWindows.DrawEveryFixture 15" "tools.FleetCommand.TellsCausesWardsAndTaping 10"
    "host.Shipped/ScenarioFixtureText.IsAsApprovedAndDecidedAsTheJournalHolds/sleeve  # GetParam() = \"sleeve\" 17"
    "host.Shipped/ScenarioFixtureText.IsAsApprovedAndDecidedAsTheJournalHolds/hand_resting  # GetParam() = \"hand-resting\" 17"
    "field.LargeBodies.ChangeNodesAsInTheFullSolution/Glass0_7  # GetParam() = 0_7 10"
    "field.LargeBodies.ChangeNodesAsInTheFullSolution/Glass1_1  # GetParam() = 1_1 10"
    "field.LargeBodies.ChangeNodesAsInTheFullSolution/Glass2_0  # GetParam() = 2_0 10"
    "field.LargeBodies.ChangeNodesAsInTheFullSolution/Glass3_0  # GetParam() = 3_0 10"
    "host.Stories/EveryStory.FindsItsCauseOverManySeeds/wet_film_drying  # GetParam() = wet-film-drying 6"
    "host.Knowledge/BarePanels.AreNeverCalledFaulty/with_reference  # GetParam() = true 8"
    "host.Knowledge/BarePanels.AreNeverCalledFaulty/without_reference  # GetParam() = false 8"
    "view.BenchWindow.GuidesThroughATouchTestAndFindsASoundPanelSound 6"
    "tools.ExplainCommand.ReportHoldsBeforeAndAfter 6" "field.DiamondPanel.ShipsWithTheKernelsOfThisSolver 6"
    "tools.HostileName.OfADumpIsShownInEveryAnswer 5" "host.DryingFilmDump.NamesTheWetFilmAndInputComesBack 5"
    "tools.Killed.ConvertLeavesWholePacketsAndTheNextRunTidiesUp 5"
    "host.BrokenLineThatTurnedInputOff.IsNotSaidToLeaveTheRestWorking 4"
    "view.ApprovedPicture.OfATouchTestThatWasNotPassed 4" "tools.ExplainCommand.OutputThatCantBeWritten 4"
    "view.BenchWindow.GivesAWholeLessonFromTheKeyboard 4"
    "tools.Killed.SimulateLeavesWholePacketsAndTheNextRunTidiesUp 4")
  string(REGEX MATCH "^(.*) ([0-9]+)$" entry "${entry}")
  set_tests_properties("${CMAKE_MATCH_1}" PROPERTIES COST "${CMAKE_MATCH_2}")
endforeach()
