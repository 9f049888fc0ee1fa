using MeshTrace.Synthesis.Scenarios;

namespace MeshTrace.Synthesis.Tests.Scenarios;

public class ScenarioReaderTests
{
    [Theory]
    [InlineData("\"lastsS\": 30", "\"lastsS\": \"long\"", "$.lastsS", "number")]
    [InlineData("\"seed\": 11, ", "", "$.seed", "needed")]
    [InlineData("\"name\": \"chain\"", "\"name\": \"../chain\"", "$.name", "file names")]
    [InlineData("2026-04-18T09:00:00Z", "yesterday", "$.start", "2026-03-02T18:00:00Z")]
    [InlineData("\"unicast\": \"0010\"", "\"unicast\": \"C010\"", "$.nodes[1].unicast", "unicast")]
    [InlineData("\"unicast\": \"0010\"", "\"unicst\": \"0010\"", "$.nodes[1].unicst", "unknown member")]
    [InlineData("\"name\": \"relay b\"", "\"name\": \"relay a\"", "$.nodes[2].name", "another node")]
    [InlineData("\"models\": [\"1001\", \"0001\"]", "\"models\": [\"1001\", 5]", "$.nodes[0].elements[0].models[1]", "hex")]
    [InlineData("\"subscribe\": [\"Jetty\"]", "\"subscribe\": [\"Roof\"]", "$.nodes[3].elements[0].subscribe[0]", "Roof")]
    [InlineData("\"address\": \"C002\"", "\"address\": \"0002\"", "$.network.groups[1].address", "group address")]
    [InlineData("\"channels\": \"three\"", "\"channels\": 40", "$.receivers[0].channels", "37")]
    [InlineData("\"linkType\": 256", "\"linkType\": 1", "$.receivers[0].linkType", "251")]
    [InlineData("\"asks\": \"on\"", "\"asks\": \"brighter\"", "$.schedule[0].asks", "level N")]
    [InlineData("\"press\": \"panel\"", "\"press\": \"door\"", "$.schedule[0].press", "door")]
    [InlineData("\"unicast\": \"0030\"", "\"unicast\": \"0030\", \"netKeys\": []", "$.nodes[3].netKeys", "at least one NetKey")]
    [InlineData("\"unicast\": \"0030\"", "\"unicast\": \"0030\", \"friendship\": {}", "$.nodes[3].friendship", "lowPower")]
    [InlineData("\"unicast\": \"0030\"", "\"unicast\": \"0030\", \"lowPower\": true, \"friendship\": {\"pollS\": 90}", "$.nodes[3].friendship.pollS", "pollTimeoutS")]
    [InlineData("\"unicast\": \"0030\"", "\"unicast\": \"0030\", \"lowPower\": true, \"friendship\": {\"pollTimeoutS\": 400000}", "$.nodes[3].friendship.pollTimeoutS", "345599.9")]
    [InlineData("\"unicast\": \"0030\"", "\"unicast\": \"0030\", \"lowPower\": true, \"friendship\": {\"wakes\": 1}", "$.nodes[3].friendship.wakes", "unknown member")]
    [InlineData("\"press\": \"panel\", \"asks\": \"on\", \"acknowledged\": true", "\"ivUpdate\": \"panel\"", "$.schedule[0].ivUpdate", "no beacons")]
    [InlineData("\"press\": \"panel\", \"asks\": \"on\", \"acknowledged\": true", "\"keyRefresh\": 7, \"by\": \"panel\"", "$.schedule[0].keyRefresh", "NetKey")]
    [InlineData("\"press\": \"panel\", \"asks\": \"on\", \"acknowledged\": true", "\"keyRefresh\": 0, \"by\": \"panel\", \"nodes\": [\"mast\"]", "$.schedule[0].nodes", "mast")]
    [InlineData("\"press\": \"panel\", \"asks\": \"on\", \"acknowledged\": true", "\"lightUp\": \"panel\"", "$.schedule[0]", "provision")]
    [InlineData("\"faults\": []", "\"faults\": [{\"fault\": \"key-refresh-stuck\", \"node\": \"lamp\", \"phase\": 3}]", "$.faults[0].phase", "2")]
    [InlineData("\"faults\": []", "\"faults\": [{\"fault\": \"provisioning-failed\", \"node\": \"lamp\"}]", "$.faults[0].node", "provisions")]
    [InlineData("\"from\": \"panel\", \"to\": \"receiver\"", "\"from\": \"panel\", \"to\": \"mast\"", "$.links[3]", "mast")]
    [InlineData("\"faults\": []", "\"faults\": [{\"fault\": \"gremlins\"}]", "$.faults[0].fault", "known")]
    [InlineData("\"faults\": []", "\"faults\": [{\"fault\": \"ttl-exhausted\", \"node\": \"panel\"}]", "$.faults[0].ttl", "needed")]
    [InlineData("\"faults\": []", "\"faults\": [{\"fault\": \"no-relay-on-path\", \"node\": \"panel\"}]", "$.faults[0].node", "unknown member")]
    public void WrongMember_IsNamedWithItsPath(string old, string with, string path, string says)
    {
        var error = Assert.Throws<ScenarioException>(() => Composed.Of(Chain.With((old, with))));
        Assert.Equal(path, error.JsonPath);
        Assert.Contains(says, error.Says, StringComparison.Ordinal);
    }

    [Fact]
    public void NoJson_IsNamedWithItsLine()
    {
        var error = Assert.Throws<ScenarioException>(() => Composed.Of("{\n\"scenario\": 1,\n oops"));
        Assert.Contains("line 3", error.Says, StringComparison.Ordinal);
    }

    [Fact]
    public void MissingFile_IsNamed()
    {
        var error = Assert.Throws<ScenarioException>(() => Composer.Compose("no-such-scenario.json", Path.GetTempPath()));
        Assert.Equal("no-such-scenario.json", error.File);
    }

    [Fact]
    public void CommentsAndTrailingCommas_AreAllowed() =>
        Assert.NotEmpty(Composed.Of(Chain.With(("\"faults\": []", "/* none */ \"faults\": [],"))).Frames);
}
