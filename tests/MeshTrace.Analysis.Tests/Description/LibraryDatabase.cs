using System.Text;
using System.Text.Json.Nodes;
using MeshTrace.Analysis.Description;

namespace MeshTrace.Analysis.Tests.Description;

/// <summary>A small public library, written by hand: entrance panel, two reading-room lamps, a stairs lamp, a relay in the corridor. All keys are invented.</summary>
internal static class LibraryDatabase
{
    public const string File = "library.json";

    /// <summary>The label UUID of Mesh Protocol 1.1 §8.3.22, whose virtual address that section gives as 0xB529.</summary>
    public const string StairsLabel = "0073E7E4D8B9440FAF8415DF4C56C0E1";

    public const string Json = """
        {
          "$schema": "http://json-schema.org/draft-04/schema#",
          "id": "https://www.bluetooth.com/specifications/specs/mesh-cdb-1-0-1-schema.json#",
          "version": "1.0.1",
          "meshUUID": "5B1E8C0A-3D1F-4B77-9E52-6A0C7D21F4E3",
          "meshName": "Library",
          "timestamp": "2026-03-02T17:40:11+01:00",
          "partial": false,
          "netKeys": [
            { "name": "House", "index": 0, "phase": 0, "key": "1E5AB60C77D2493F8811C0DE4B6A9F23", "minSecurity": "secure", "timestamp": "2026-01-10T09:00:00Z" },
            { "name": "Stairwell", "index": 7, "phase": 1, "key": "90A4F1D35E2C4B8EA7036D19BB5C82E4", "oldKey": "3C77E0519DAF42168B5E04C2D8F6A31B",
              "minSecurity": "insecure", "timestamp": "2026-03-01T08:30:00.250-05:00" }
          ],
          "appKeys": [
            { "name": "Lighting", "index": 1, "boundNetKey": 0, "key": "A2D94F6E0B7C4135962E8D1F5C3A70B8" },
            { "name": "Stairs", "index": 4095, "boundNetKey": 7, "key": "6F0C2B9A48E14D7FB3A5170D9E62C4F1", "oldKey": "D8153E7A9C604BF2A1E70B2D46C98F35" }
          ],
          "provisioners": [
            { "provisionerName": "Front desk tablet", "UUID": "0B7A4D12-90C3-4F5E-8A61-2D3E4F506172",
              "allocatedUnicastRange": [ { "lowAddress": "0001", "highAddress": "0FFF" }, { "lowAddress": "2000", "highAddress": "7FFF" } ],
              "allocatedGroupRange": [ { "lowAddress": "C000", "highAddress": "C0FF" } ],
              "allocatedSceneRange": [ { "firstScene": "0001", "lastScene": "00FF" } ] }
          ],
          "nodes": [
            { "UUID": "0B7A4D12-90C3-4F5E-8A61-2D3E4F506172", "unicastAddress": "0001", "deviceKey": "7B21D06F5A9E4C38B4D7E1F0926C853A", "security": "secure",
              "netKeys": [ { "index": 0, "updated": false } ], "appKeys": [ { "index": 1, "updated": false } ], "configComplete": true, "name": "Front desk tablet",
              "elements": [ { "index": 0, "location": "0000", "models": [ { "modelId": "0001", "subscribe": [], "bind": [] } ] } ],
              "excluded": false, "knownAddresses": [ "C001", "FFFF" ] },
            { "UUID": "21C6E9D4-1A2B-4C3D-9E4F-5A6B7C8D9EA0", "unicastAddress": "0002", "deviceKey": "C4F8137E2D6B4A90857C3E1DA0B9F264", "security": "insecure",
              "netKeys": [ { "index": 0, "updated": false }, { "index": 7, "updated": true } ],
              "appKeys": [ { "index": 1, "updated": false }, { "index": 4095, "updated": true } ],
              "configComplete": true, "name": "Entrance panel", "cid": "FFFF", "pid": "0102", "vid": "0003", "crpl": "0020",
              "features": { "relay": 0, "proxy": 1, "friend": 2, "lowPower": 1 }, "secureNetworkBeacon": true, "defaultTTL": 5,
              "networkTransmit": { "count": 3, "interval": 20 }, "relayRetransmit": { "count": 1, "interval": 320 },
              "elements": [
                { "index": 0, "location": "0100", "name": "left rocker", "models": [
                  { "modelId": "0000", "subscribe": [], "bind": [] },
                  { "modelId": "1001", "subscribe": [], "bind": [ 1 ],
                    "publish": { "address": "C001", "index": 1, "ttl": 255, "period": { "numberOfSteps": 0, "resolution": 100 },
                                 "retransmit": { "count": 2, "interval": 50 }, "credentials": 0 } } ] },
                { "index": 1, "location": "0101", "name": "right rocker", "models": [
                  { "modelId": "1001", "subscribe": [], "bind": [ 4095 ],
                    "publish": { "address": "0073E7E4D8B9440FAF8415DF4C56C0E1", "index": 4095, "ttl": 4, "period": { "numberOfSteps": 6, "resolution": 10000 },
                                 "retransmit": { "count": 0, "interval": 50 }, "credentials": 1 } } ] } ],
              "excluded": false,
              "heartbeatPub": { "address": "0001", "period": 64, "ttl": 7, "index": 0, "features": [ "relay", "lowPower" ] },
              "heartbeatSub": { "source": "0040", "destination": "0002" } },
            { "UUID": "32D7FAE5-2B3C-4D4E-8F50-6B7C8D9EA0B1", "unicastAddress": "0010", "deviceKey": "5D90B37C1E8F4A26A9D4C05B71E3F862", "security": "secure",
              "netKeys": [ { "index": 0, "updated": false } ], "appKeys": [ { "index": 1, "updated": false } ], "configComplete": true, "name": "Reading room window",
              "features": { "relay": 1, "proxy": 1, "friend": 1, "lowPower": 2 },
              "elements": [
                { "index": 0, "location": "0001", "models": [
                  { "modelId": "1000", "subscribe": [ "C001", "C00F" ], "bind": [ 1 ] },
                  { "modelId": "1300", "subscribe": [ "C001" ], "bind": [ 1 ], "publish": { "address": "0000", "index": 0, "ttl": 0 } } ] },
                { "index": 1, "location": "0002", "models": [ { "modelId": "1002", "subscribe": [ "C001" ], "bind": [ 1 ] } ] } ],
              "excluded": false },
            { "UUID": "43E80BF6-3C4D-4E5F-9061-7C8D9EA0B1C2", "unicastAddress": "0012", "deviceKey": "E17A5C4D8B304F92B6C80D3E9F25A174", "security": "secure",
              "netKeys": [ { "index": 0, "updated": false } ], "appKeys": [], "configComplete": false, "name": "Reading room door",
              "features": { "relay": 1, "proxy": 0 },
              "elements": [ { "index": 0, "location": "0001", "models": [
                { "modelId": "1000", "subscribe": [ "C001" ], "bind": [] }, { "modelId": "FFFF0007", "subscribe": [ "C001" ], "bind": [ 1 ] } ] } ],
              "excluded": false },
            { "UUID": "54F91C07-4D5E-4F60-A172-8D9EA0B1C2D3", "unicastAddress": "0020", "deviceKey": "08F3D6A19B5E4C7290E1A47D6C8B3F5E", "security": "secure",
              "netKeys": [ { "index": 7, "updated": false } ], "appKeys": [ { "index": 4095, "updated": false } ], "configComplete": true, "name": "Stairs lamp",
              "features": { "relay": 2, "proxy": 2, "friend": 2, "lowPower": 2 },
              "elements": [ { "index": 0, "location": "0000", "models": [
                { "modelId": "1000", "subscribe": [ "0073E7E4D8B9440FAF8415DF4C56C0E1", "FFFE" ], "bind": [ 4095 ] } ] } ],
              "excluded": false },
            { "UUID": "650A2D18-5E6F-4071-B283-9EA0B1C2D3E4", "unicastAddress": "0040", "deviceKey": "F25B8E061C7D4A39A80E5D93B4C7162F", "security": "secure",
              "netKeys": [ { "index": 0, "updated": false } ], "appKeys": [], "configComplete": true, "name": "Corridor relay",
              "features": { "relay": 1, "proxy": 0, "friend": 0, "lowPower": 2 },
              "elements": [ { "index": 0, "location": "0000", "models": [ { "modelId": "0000", "subscribe": [], "bind": [] } ] } ],
              "excluded": false },
            { "UUID": "761B3E29-6F70-4182-8394-A0B1C2D3E4F5", "unicastAddress": "0050", "deviceKey": "4A6D81F70E2C4B95BC3F19D85E07A62B", "security": "secure",
              "netKeys": [ { "index": 0, "updated": false } ], "appKeys": [ { "index": 1, "updated": false } ], "configComplete": true, "name": "Old reading lamp",
              "features": { "relay": 1 },
              "elements": [ { "index": 0, "location": "0000", "models": [ { "modelId": "1000", "subscribe": [ "C001" ], "bind": [ 1 ] } ] } ],
              "excluded": true }
          ],
          "groups": [
            { "name": "Ground floor", "address": "C00F", "parentAddress": "0000" },
            { "name": "Reading room", "address": "C001", "parentAddress": "C00F" },
            { "name": "Stairs", "address": "0073E7E4D8B9440FAF8415DF4C56C0E1", "parentAddress": "0000" }
          ],
          "scenes": [ { "name": "Evening reading", "number": "000A", "addresses": [ "0010", "0012" ] } ],
          "networkExclusions": [ { "ivIndex": 12, "addresses": [ "0060", "0061" ] } ]
        }
        """;

    /// <summary>Every key of the text above, for checks that none of them is shown.</summary>
    public static IReadOnlyList<string> Keys { get; } = [.. System.Text.RegularExpressions.Regex
        .Matches(Json, "\"(?:key|oldKey|deviceKey)\": \"([0-9A-F]{32})\"").Select(match => match.Groups[1].Value)];

    public static NetworkDescription Read(string json) => NetworkDescriptionReader.Read(Encoding.UTF8.GetBytes(json), File);
    public static NetworkDescription Read() => Read(Json);

    /// <summary>The library with one thing changed.</summary>
    public static NetworkDescription ReadWith(Action<JsonObject> change)
    {
        JsonObject root = JsonNode.Parse(Json)!.AsObject();
        change(root);
        return Read(root.ToJsonString());
    }

    /// <summary>Goes to a value: <c>nodes.2.elements.0</c>.</summary>
    public static JsonNode At(this JsonNode root, string path)
    {
        JsonNode here = root;
        foreach (string step in path.Split('.'))
            here = (int.TryParse(step, out int index) ? here[index] : here[step])!;
        return here;
    }
}
