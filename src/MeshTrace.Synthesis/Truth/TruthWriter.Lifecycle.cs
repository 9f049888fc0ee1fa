using System.Globalization;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Provisioning;

namespace MeshTrace.Synthesis.Truth;

/// <summary>What changed in the life of the network. Sections without a row are left out.</summary>
internal sealed partial class TruthWriter
{
    private void WriteLifecycle(TruthLog truth)
    {
        if (truth.Lifecycle.Count > 0)
        {
            Section("lifecycle", truth.Lifecycle, item =>
            {
                _json.WriteString("time", Time(item.TimeUs));
                _json.WriteString("what", item.What);
                _json.WriteString("node", item.Node.Plan.Name);
                if (item.With is not null)
                    _json.WriteString("with", item.With.Plan.Name);
                foreach (var (name, value) in item.Values)
                    _json.WriteNumber(name, value);
            });
        }
        if (truth.Provisionings.Count > 0)
            Section("provisionings", truth.Provisionings, WriteProvisioning);
        if (truth.Friendships.Count > 0)
            Section("friendships", truth.Friendships, WriteFriendship);
        if (truth.ProxyConnections.Count > 0)
            Section("proxyConnections", truth.ProxyConnections, WriteProxyConnection);
    }

    private void WriteProxyConnection(ProxyTruth connection)
    {
        _json.WriteString("time", Time(connection.StartUs));
        WriteTime("end", connection.EndUs);
        _json.WriteString("outcome", connection.Outcome);
        _json.WriteString("phone", connection.Phone.Plan.Name);
        _json.WriteString("proxy", connection.Proxy.Plan.Name);
        Addresses("asked", [.. connection.Asked.Select(address => new MeshAddress(address))]);
        Addresses("held", [.. connection.Held.Select(address => new MeshAddress(address))]);
        _json.WriteNumber("written", connection.Written);
        _json.WriteNumber("putOnAir", connection.PutOnAir);
        _json.WriteNumber("keptFromAir", connection.KeptFromAir);
        _json.WriteNumber("notified", connection.Notified);
        _json.WriteNumber("blocked", connection.Blocked);
    }

    private void WriteOverGatt(FloodTruth flood)
    {
        if (flood.OverGatt.Count == 0)
            return;
        _json.WriteStartArray("gatt");
        foreach (GattTruth sent in flood.OverGatt)
        {
            _json.WriteStartObject();
            _json.WriteString("time", Time(sent.TimeUs));
            _json.WriteString(sent.ToProxy ? "from" : "to", sent.Phone.Plan.Name);
            _json.WriteNumber("ttl", sent.Ttl);
            _json.WriteEndObject();
        }
        _json.WriteEndArray();
    }

    /// <summary>With the provisioner's private key: it opens the provisioning for who reads the capture.</summary>
    private void WriteProvisioning(ProvisioningTruth provisioning)
    {
        var plan = provisioning.Plan;
        _json.WriteString("time", Time(provisioning.StartUs));
        WriteTime("end", provisioning.EndUs);
        _json.WriteString("outcome", provisioning.Outcome);
        _json.WriteString("by", provisioning.By.Plan.Name);
        _json.WriteString("node", provisioning.Device.Plan.Name);
        _json.WriteString("uuid", provisioning.Device.Plan.Uuid.ToString("D"));
        _json.WriteString("unicast", provisioning.Device.Unicast.ToString());
        _json.WriteString("linkId", plan.LinkId.ToString("x8", CultureInfo.InvariantCulture));
        _json.WriteString("algorithm", plan.Algorithm == ProvisioningAlgorithm.CmacAes128 ? "cmac" : "hmac");
        _json.WriteNumber("pdus", provisioning.Pdus);
        _json.WriteNumber("repeats", provisioning.Repeats);
        _json.WriteString("privateKey", Convert.ToHexStringLower(plan.ProvisionerPrivateKey));
        if (plan.StaticOob is not null)
            _json.WriteString("staticOob", Convert.ToHexStringLower(plan.StaticOob));
    }

    private void WriteFriendship(FriendshipTruth friendship)
    {
        var bond = friendship.Bond;
        _json.WriteString("time", Time(friendship.StartUs));
        WriteTime("end", friendship.EndUs);
        _json.WriteString("outcome", friendship.Outcome);
        _json.WriteString("lpn", bond.Lpn.Plan.Name);
        _json.WriteString("friend", bond.Friend.Plan.Name);
        _json.WriteNumber("lpnCounter", bond.LpnCounter);
        _json.WriteNumber("friendCounter", bond.FriendCounter);
        _json.WriteNumber("queueSize", bond.QueueSize);
        _json.WriteNumber("polls", friendship.Polls);
        _json.WriteNumber("stored", friendship.Stored);
        _json.WriteNumber("delivered", friendship.Delivered);
        _json.WriteNumber("dropped", friendship.Dropped);
    }

    /// <summary>The state that a beacon tells, where it is not the ordinary one.</summary>
    private void WriteState(BeaconContent? content)
    {
        if (content is not { IvUpdate: false, KeyRefresh: false } and not null)
        {
            _json.WriteNumber("ivIndex", content.IvIndex);
            _json.WriteBoolean("ivUpdate", content.IvUpdate);
            _json.WriteBoolean("keyRefresh", content.KeyRefresh);
        }
    }
}
